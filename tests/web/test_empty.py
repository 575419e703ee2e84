"""A county's first minutes: nothing is imported yet, and every page says what to do."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask

from kb.base.clock import now
from kb.incidents.store.folder import create, open_folder
from kb.people.accounts import Account
from kb.people.roles import ROLES
from tests.web.conftest import PASSWORD, Browser, over, token_of

PAGES = ["/calls", "/rounds", "/now", "/now/table", "/incidents", "/review", "/office", "/library"]


@pytest.fixture
def everyone(compiled: Flask, tmp_path: Path) -> Iterator[Browser]:
    """A person with every role in an empty county."""
    create(tmp_path / "empty")
    folder = open_folder(tmp_path / "empty")
    folder.people.put(Account("all", "All Roles", frozenset(ROLES)))
    folder.people.set_password("all", PASSWORD)
    token = token_of(folder.people, "all")
    session = folder.people.session(token, now())
    assert session
    client = compiled.test_client()
    client.set_cookie("latchbook", token)
    with over(compiled, folder):
        yield Browser(client, session.csrf)
    folder.close()


def test_every_page_works_and_says_that_no_election_is_set_up(everyone: Browser) -> None:
    for address in PAGES:
        page = everyone.get(address)
        if address not in {"/incidents", "/office", "/library"}:
            assert "No election is set up yet" in page, address
    assert "latchbook import elections" in everyone.get("/office")


def test_a_call_cannot_be_answered_before_there_is_an_election(everyone: Browser) -> None:
    everyone.post("/calls", 400)
    assert "An administrator imports elections and places first" in everyone.page
