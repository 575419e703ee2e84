"""Accounts, passwords, sessions, one-time links; the table of permissions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from argon2 import extract_parameters

from kb.base.database import Store
from kb.base.errors import InputError, NotFound
from kb.base.ids import fingerprint
from kb.people.accounts import Account
from kb.people.passwords import hash_password
from kb.people.roles import PERMISSIONS, ROLES, may
from kb.people.store import LINK_HOURS, People, migrations

NOON = datetime(2026, 11, 3, 12, tzinfo=UTC)
WREN = Account("wren", "Wren Tallow", frozenset({"hotline"}), "", "555-0101")
GOOD = "four unrelated words here"
# The first migration alone made the tables of folders of before.
SECOND = "second_factor_tries_and_traces"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "people.db")
    opened.write(migrations.apply)
    yield opened
    opened.close()


@pytest.fixture
def people(store: Store) -> People:
    found = People(store)
    found.put(WREN)
    return found


def token_of(people: People, login: str = "wren", password: str = GOOD, at: datetime = NOON) -> str:
    made = people.sign_in(login, password, at, 8)
    assert made
    return made.token


def test_put_says_what_it_did_and_keeps_the_password(people: People) -> None:
    people.set_password("wren", GOOD)
    assert people.put(WREN) == ["same"]
    assert people.put(replace(WREN, roles=frozenset({"hotline", "lead"}))) == ["changed"]
    assert people.sign_in("wren", GOOD, NOON, 8)


def test_an_unknown_role_is_refused_with_the_known_ones(people: People) -> None:
    with pytest.raises(InputError, match=r"no role is called boss; use hotline, lead"):
        people.put(Account("y", "Y", frozenset()), Account("x", "X", frozenset({"boss", "rover"})))
    assert [account.login for account in people.all()] == ["wren"]


# OWASP Password Storage Cheat Sheet: argon2id with 19 MiB, 2 passes, 1 lane (from memory).
def test_passwords_are_argon2id_with_the_named_parameters() -> None:
    found = extract_parameters(hash_password(GOOD))
    assert (found.type.name, found.time_cost, found.memory_cost, found.parallelism) == (
        "ID",
        2,
        19 * 1024,
        1,
    )


def test_a_short_password_is_refused(people: People) -> None:
    with pytest.raises(InputError, match="has 5 characters"):
        people.set_password("wren", "short")


@pytest.mark.parametrize(("login", "password"), [("wren", "wrong password!"), ("nobody", GOOD)])
def test_wrong_sign_in(people: People, login: str, password: str) -> None:
    people.set_password("wren", GOOD)
    assert people.sign_in(login, password, NOON, 8) is None


def test_an_account_without_password_lets_nobody_in(people: People) -> None:
    assert people.sign_in("wren", "", NOON, 8) is None
    assert people.sign_in("wren", "no account has this password", NOON, 8) is None


def test_a_session_lasts_until_its_time_or_sign_out(people: People) -> None:
    people.set_password("wren", GOOD)
    token = token_of(people)
    session = people.session(token, NOON + timedelta(hours=7, minutes=59))
    assert session
    assert session.account.login == "wren"
    assert people.session(token, NOON + timedelta(hours=8)) is None
    people.sign_out(token)
    assert people.session(token, NOON) is None


def test_a_form_typed_before_the_session_ran_out_can_be_sent_afterwards(people: People) -> None:
    people.put(replace(WREN, login="odd"))
    for login in ("wren", "odd"):
        people.set_password(login, GOOD)
    later = NOON + timedelta(hours=9)

    def form_token(login: str, password: str, at: datetime) -> str:
        session = people.session(token_of(people, login, password, at), at)
        assert session
        return session.csrf

    first = form_token("wren", GOOD, NOON)
    # Somebody else signs in meanwhile, which sweeps out what ran out.
    assert form_token("odd", GOOD, later) != first
    assert form_token("wren", GOOD, later) == first
    people.set_password("wren", "seven green kettles abroad")
    assert form_token("wren", "seven green kettles abroad", later) != first


def test_a_new_password_ends_sessions_and_links(people: People) -> None:
    people.set_password("wren", GOOD)
    session, link = token_of(people), people.make_link("wren", NOON)
    people.set_password("wren", "seven green kettles abroad")
    assert people.session(session, NOON) is None
    assert people.link_login(link, NOON) is None


def test_a_link_runs_out(people: People) -> None:
    link = people.make_link("wren", NOON)
    assert people.link_login(link, NOON + timedelta(hours=LINK_HOURS - 1)) == "wren"
    assert people.link_login(link, NOON + timedelta(hours=LINK_HOURS)) is None
    with pytest.raises(NotFound, match="no account 'ghost'"):
        people.make_link("ghost", NOON)


def test_no_token_stands_in_the_database(people: People, store: Store) -> None:
    people.set_password("wren", GOOD)
    token, link = token_of(people), people.make_link("wren", NOON)
    held = "".join(
        str(row) for name in ("sessions", "links") for row in store.read().table(name).rows
    )
    assert "wren" in held
    assert token not in held
    assert link not in held


def test_a_folder_of_before_opens_and_only_its_sessions_end(tmp_path: Path) -> None:
    old = Store(tmp_path / "old.db")
    old.write(lambda database: migrations.apply(database, stop_before=SECOND))
    stored = hash_password(GOOD)
    rows = (
        ("INSERT INTO accounts VALUES ('wren', 'Wren', 'lead', '', '', 0, ?, 'token')", stored),
        ("INSERT INTO sessions VALUES (?, 'wren', '2099-01-01T00:00:00Z')", fingerprint("kept")),
        ("INSERT INTO links VALUES (?, 'wren', '2099-01-01T00:00:00Z')", fingerprint("link")),
    )
    for statement, value in rows:
        old.write(lambda database, do=statement, one=value: database.execute(do, [one]))
    old.write(migrations.apply)
    people = People(old)
    assert people.session("kept", NOON) is None
    assert people.link_login("link", NOON) == "wren"
    assert people.session(token_of(people), NOON)
    assert people.get("wren").roles == {"lead"}
    old.close()


def test_the_table_names_only_roles_there_are() -> None:
    assert all(roles <= ROLES.keys() and roles for roles in PERMISSIONS.values())
    assert may({"rover"}, "work a stop")
    assert not may({"reader"}, "take calls")
    with pytest.raises(KeyError):
        may({"rover"}, "no such permission")
