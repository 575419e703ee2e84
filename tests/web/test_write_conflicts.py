"""Two tabs, two authors, an upgrade beneath an edit: nobody loses what was typed."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from flask import Flask

from kb.incidents.store.folder import Folder
from tests.web.conftest import SignIn
from tests.web.writing import (
    GOOD,
    NEW_STOP,
    PAGE,
    SLUG,
    STOP,
    approve,
    begin,
    hand_in,
    revision_of,
    send,
    start,
    text_of,
)

HERE = "Nobody here opens a sealed cover"
UPGRADE = f"/library/write/upgrade/{SLUG}"


@pytest.fixture(autouse=True)
def _small_library(app: Flask, folder: Folder) -> None:
    start(app, folder)


def test_of_two_tabs_the_later_save_keeps_both_texts(sign_in: SignIn, folder: Folder) -> None:
    author = sign_in("author")
    address = begin(author)
    text, opened = text_of(author.page), revision_of(author.page)
    first, second = (
        text.replace(STOP, NEW_STOP),
        text.replace(STOP, HERE),
    )
    send(author, address, first, revision=opened)
    send(author, address, second, status=409, revision=opened)
    assert "Your text is not saved yet" in author.page
    assert text_of(author.page) == second
    send(author, address, second, status=409)
    assert text_of(author.get(address)) == first
    send(author, address, second, "own", revision=opened)
    assert author.location != address
    assert text_of(author.get(author.location)) == second
    assert {one.text for one in folder.editions.edits(SLUG)} == {first, second}


def test_the_script_is_told_of_the_other_tab_and_overwrites_nothing(
    sign_in: SignIn, folder: Folder
) -> None:
    author = sign_in("author")
    address = begin(author)
    text = text_of(author.page)

    def live(typed: str, revision: int) -> dict[str, str]:
        data = {"form_token": author.form_token, "text": typed, "note": "", "revision": revision}
        answer = author.client.post(f"{address}/live", data=data).json
        assert answer
        return answer

    first = live(text.replace(STOP, NEW_STOP), 1)
    assert (first["revision"], first["told"]) == (2, "")
    assert NEW_STOP in first["preview"]
    late = live(text.replace(STOP, HERE), 1)
    assert "saved elsewhere" in late["told"]
    assert HERE in late["preview"]
    assert NEW_STOP in folder.editions.edits(SLUG)[0].text
    assert live(text.replace(STOP, NEW_STOP), 1)["told"] == ""


def test_a_save_of_what_was_handed_in_meanwhile_loses_nothing(sign_in: SignIn) -> None:
    author = sign_in("author")
    address = hand_in(author, STOP, NEW_STOP)
    send(author, address, "typed in another tab", status=409, revision="2")
    assert text_of(author.page) == "typed in another tab\n"
    author.post(address, text="typed in another tab", do="own", note="", revision="2")
    assert text_of(author.get(author.location)) == "typed in another tab\n"


def test_the_second_of_two_authors_sees_both_and_a_merge(sign_in: SignIn) -> None:
    author, manager = sign_in("author"), sign_in("manager")
    mine = begin(manager)
    changed = text_of(manager.page).replace("phrases:\n", "phrases:\n  - a turnip in the slot\n")
    send(manager, mine, changed)
    theirs = hand_in(author, STOP, NEW_STOP)
    approve(manager, theirs)
    assert f"{mine}/compare" in manager.get(mine)
    assert f"{mine}/compare" in manager.get("/library/write")
    manager.get(mine)
    send(manager, mine, changed, "hand-in", 422)
    assert "Another text has come into force" in manager.page
    both = manager.get(f"{mine}/compare")
    assert "version 1 by Author Person" in both
    assert "<ins> ever</ins>" in both
    assert "a turnip in the slot" in both
    assert "so they fit together" in both
    manager.post(f"{mine}/compare", do="merge")
    merged = manager.location
    text = text_of(manager.get(merged))
    assert NEW_STOP in text
    assert "a turnip in the slot" in text
    assert "set aside" in manager.get(f"{mine}/read").lower()
    manager.get(merged)
    send(manager, merged, text, "hand-in")
    approve(author, merged)
    assert NEW_STOP in author.get(PAGE)


def test_an_edit_that_waits_over_an_older_text_is_not_approved(
    sign_in: SignIn, folder: Folder
) -> None:
    author, manager = sign_in("author"), sign_in("manager")
    theirs, mine = (
        hand_in(author, STOP, NEW_STOP),
        hand_in(manager, STOP, HERE),
    )
    approve(manager, theirs)
    approve(author, mine, 409)
    assert "would be lost" in author.page
    assert [one.state for one in folder.editions.edits(SLUG)] == ["handed-in"]
    author.post(f"{mine}/compare", 403, do="merge")
    manager.post(f"{mine}/compare", 400, do="merge")
    manager.post(f"{mine}/move", do="take-back")
    assert "In 1 place both changed the same lines" in manager.get(f"{mine}/compare")
    manager.post(f"{mine}/compare", do="merge")
    merged = manager.location
    send(manager, merged, text_of(manager.get(merged)), "hand-in", 422)
    manager.post(f"/library/write/begin/{SLUG}")
    assert manager.location == merged


@pytest.mark.parametrize(
    ("way", "ours", "theirs"),
    [("ours", True, False), ("shipped", False, True), ("merge", True, True)],
)
def test_an_upgrade_under_an_edit_shows_both_and_the_edit_stays_in_force(
    app: Flask, folder: Folder, sign_in: SignIn, tmp_path: Path, way: str, ours: bool, theirs: bool
) -> None:
    author, manager = sign_in("author"), sign_in("manager")
    approve(manager, hand_in(author, STOP, NEW_STOP))
    author.get(UPGRADE, 303)
    articles = Path(shutil.copytree(GOOD, tmp_path / "articles"))
    file = articles / "scanner" / f"{SLUG}.md"
    old = file.read_text(encoding="utf-8")
    file.write_text(old.replace("phrases:\n", "phrases:\n  - a turnip in it\n"), encoding="utf-8")
    start(app, folder, articles)
    for page in (PAGE, "/library/write", f"/library/write/history/{SLUG}"):
        assert UPGRADE in author.get(page)
    assert NEW_STOP in author.get(PAGE)
    both = author.get(UPGRADE)
    assert both.count("a turnip in it") >= 3
    assert "a merge has both" in both
    address = begin(author, SLUG, way)
    text = text_of(author.page)
    assert (NEW_STOP in text, "a turnip in it" in text) == (ours, theirs)
    send(author, address, text, "hand-in")
    assert UPGRADE in author.get(PAGE)
    approve(manager, address)
    assert UPGRADE not in author.get(PAGE)
    assert (NEW_STOP in author.page) is ours
    assert UPGRADE not in author.get("/library/write")
    start(app, folder, articles)
    assert (NEW_STOP in author.get(PAGE)) is ours
