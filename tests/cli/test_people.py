"""`latchbook people`: accounts from the server's own command line, when nobody can sign in."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pyotp
import pytest
from click.testing import CliRunner, Result

from kb.base.clock import now
from kb.cli import main
from kb.incidents.store.folder import Folder, create, open_folder
from kb.people.accounts import Account
from kb.people.codes import new_secret

Run = Callable[..., Result]


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Folder]:
    create(tmp_path / "county")
    opened = open_folder(tmp_path / "county")
    opened.people.put(Account("head", "Odd Marsh", frozenset({"administrator"})))
    opened.people.put(Account("wren", "Wren Tallow", frozenset({"manager"})))
    yield opened
    opened.close()


@pytest.fixture
def run(folder: Folder) -> Run:
    return lambda *words: CliRunner().invoke(main, ["people", *words, "--data", str(folder.path)])


def test_a_link_is_made_and_the_one_of_before_ends(folder: Folder, run: Run) -> None:
    before = folder.people.make_link("head", now())
    found = re.search(r"/first-password/(\S+)", run("link", "head").output)
    assert found
    assert folder.people.link_login(found.group(1), now()) == "head"
    assert folder.people.link_login(before, now()) is None


def test_an_account_is_disabled_listed_and_enabled_with_its_reason(
    folder: Folder, run: Run
) -> None:
    assert run("disable", "wren", "--reason", "left the office").exit_code == 0
    assert re.search(r"^wren +manager +Wren Tallow disabled$", run("list").output, re.MULTILINE)
    assert run("link", "wren").exit_code == 1
    assert run("enable", "wren", "--reason", "is back").exit_code == 0
    assert not folder.people.get("wren").disabled
    told = {(one.by, one.what, one.reason) for one in folder.people.traces.changes("wren")}
    assert ("command-line", "disabled", "left the office") in told


def test_the_last_administrator_can_lose_the_second_step_but_not_the_account(
    folder: Folder, run: Run
) -> None:
    secret = new_secret()
    folder.people.factors.set_up("head", secret, pyotp.TOTP(secret).at(now()), now())
    assert run("second-step-off", "head", "--reason", "phone lost").exit_code == 0
    assert folder.people.factors.secret("head") is None
    refused = run("disable", "head", "--reason", "x")
    assert refused.exit_code == 1
    assert "Nobody could manage people" in refused.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("link",), "Name the login"),
        (("link", "ghost"), "There is no account 'ghost'"),
        (("disable", "wren"), "--reason TEXT"),
    ],
)
def test_what_is_missing_is_said_and_nothing_done(
    folder: Folder, run: Run, words: tuple[str, ...], said: str
) -> None:
    done = run(*words)
    assert done.exit_code != 0
    assert said in done.stderr
    assert not folder.people.get("wren").disabled
