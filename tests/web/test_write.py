"""Editing in the browser: from a draft into force, by an author and a second reader."""

from __future__ import annotations

import re

import pytest
from flask import Flask

from kb.incidents.store.folder import Folder
from tests.web.conftest import Browser, SignIn
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


@pytest.fixture(autouse=True)
def _small_library(app: Flask, folder: Folder) -> None:
    start(app, folder)


def first_hit(desk: Browser) -> str:
    return desk.get("/library?q=turnip+turnip").split('<ol class="results">')[1].split("</li>")[0]


def test_the_whole_way_and_search_finds_the_new_words_at_once(sign_in: SignIn) -> None:
    author, manager, desk = sign_in("author"), sign_in("manager"), sign_in("hotline")
    assert SLUG not in first_hit(desk)
    address = hand_in(author, "phrases:\n", "phrases:\n  - a turnip in the slot\n")
    assert "Waits for a second reader" in author.get(f"{address}/read")
    assert "Approve and publish" not in author.page
    assert SLUG not in first_hit(desk)
    assert address in manager.get("/library/write").split("For you to read")[1]
    approve(manager, address)
    history = manager.get(manager.location)
    assert "Author Person" in history
    assert "Manager Person" in history
    assert "Said more clearly" in history
    assert f'href="{PAGE}"' in first_hit(desk)


def test_only_authors_and_managers_see_the_way_to_edit(sign_in: SignIn) -> None:
    for role, sees in (("author", True), ("manager", True), ("hotline", False), ("rover", False)):
        browser = sign_in(role)
        for page in (PAGE, "/library/trees/paper-tree"):
            assert (
                f"/library/write/history/{page.rpartition('/')[2]}" in browser.get(page)
            ) is sees


def test_nobody_approves_an_edit_of_their_own(sign_in: SignIn, folder: Folder) -> None:
    author = sign_in("author")
    address = hand_in(author, STOP, NEW_STOP)
    author.get(f"{address}/read")
    author.post(f"{address}/decide", 403, do="approve", revision="2")
    assert "Nobody approves" in author.page
    assert folder.editions.version() == 0


def test_sent_back_with_a_reason_and_handed_in_again(sign_in: SignIn) -> None:
    author, manager = sign_in("author"), sign_in("manager")
    address = hand_in(author, STOP, NEW_STOP)
    manager.get(f"{address}/read")
    revision = revision_of(manager.page)
    manager.post(f"{address}/decide", 400, do="send-back", revision=revision, reason=" ")
    assert "Say what should be changed" in manager.page
    manager.post(f"{address}/decide", do="send-back", revision=revision, reason="ever is too much")
    assert "ever is too much" in author.get("/library/write")
    assert "ever is too much" in author.get(address)
    text = text_of(author.page).replace(NEW_STOP, "Nobody at all opens a sealed cover")
    send(author, address, text, "hand-in")
    approve(manager, address)
    assert "Nobody at all opens a sealed cover" in manager.get(PAGE)


def test_what_was_taken_back_and_changed_is_not_approved_unread(sign_in: SignIn) -> None:
    author, manager = sign_in("author"), sign_in("manager")
    address = hand_in(author, STOP, NEW_STOP)
    manager.get(f"{address}/read")
    seen = revision_of(manager.page)
    author.post(f"{address}/move", do="take-back")
    author.get(address)
    send(
        author,
        address,
        text_of(author.page).replace(NEW_STOP, "Pull as hard as you can"),
        "hand-in",
    )
    manager.post(f"{address}/decide", 409, do="approve", revision=seen)
    assert "changed since you opened it" in manager.page
    assert "Pull as hard as you can" in manager.page


def test_errors_keep_a_draft_from_being_handed_in_and_stand_beside_their_line(
    sign_in: SignIn,
) -> None:
    author = sign_in("author")
    address = begin(author)
    text = text_of(author.page)
    wrong = text.replace("equipment: scanner", "equipment: scaner")
    send(author, address, wrong, "hand-in", 422)
    assert "<title>Error:" in author.page
    assert "The check finds" in author.page
    line = wrong.splitlines().index("equipment: scaner") + 1
    beside = author.page.split(f'data-line="{line}"')[1].split("</li>")[0]
    assert "<code>equipment: scaner</code>" in beside
    assert "LB108" in beside
    assert text_of(author.page) == wrong
    assert text_of(author.get(address)) == wrong
    send(author, address, text, "hand-in", 422)
    assert "Nothing is changed yet" in author.page
    send(author, address, text.replace(STOP, NEW_STOP), "hand-in", 422, note="")
    assert "what you changed and why" in author.page


def test_what_no_longer_passes_the_check_is_not_approved(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    author, manager = sign_in("author"), sign_in("manager")
    address = hand_in(author, STOP, NEW_STOP)
    manager.get(f"{address}/read")
    revision = revision_of(manager.page)
    monkeypatch.setattr("kb.library.check.PHRASES", range(100, 200))
    manager.post(f"{address}/decide", 422, do="approve", revision=revision)
    assert "By now the check finds errors" in manager.page


def body(page: str) -> str:
    found = re.search(r"(<p class=\"stop\">.*?<p class=\"sources\">.*?</p>)", page, flags=re.DOTALL)
    assert found
    return found.group(1)


@pytest.mark.parametrize("page", [PAGE, "/library/opening-list", "/library/trees/paper-tree"])
def test_the_preview_is_the_page_byte_for_byte(sign_in: SignIn, page: str) -> None:
    author, manager = sign_in("author"), sign_in("manager")
    slug = page.rpartition("/")[2]
    address = begin(author, slug)
    assert body(author.page) == body(author.get(page))
    author.get(address)
    changed = text_of(author.page).replace("stop: ", "stop: Before all, ")
    send(author, address, changed, "check", 200)
    previewed = body(author.page)
    assert "Before all, " in previewed
    live = author.client.post(
        f"{address}/live",
        data={"form_token": author.form_token, "text": changed, "note": "n", "revision": "2"},
    ).json
    assert live
    assert body(live["preview"]) == previewed
    author.get(address)
    send(author, address, changed, "hand-in")
    approve(manager, address)
    assert body(author.get(page)) == previewed


def test_a_draft_that_cannot_be_shown_yet_says_so(sign_in: SignIn) -> None:
    author = sign_in("author")
    address = begin(author)
    send(author, address, "half a thought", "check", 200)
    assert "There is no preview while" in author.page
    assert "LB101" in author.page
    tree = begin(author, "paper-tree")
    text = text_of(author.page).replace("(#rover)", "(#no-such-step)")
    send(author, tree, text, "check", 200)
    assert "a branch leads nowhere" in author.page
    assert "LB407" in author.page


def test_a_new_article_is_added_and_a_retired_one_leads_on(sign_in: SignIn) -> None:
    author, manager, desk = sign_in("author"), sign_in("manager"), sign_in("hotline")
    author.get("/library/write/new")
    fields = {"title": "What a turnip is", "kind": "note", "equipment": "scanner"}
    for wrong in (SLUG, "paper-tree", "write", "Turnip!", ""):
        author.post("/library/write/new", 422, slug=wrong, **fields)
        assert 'href="#slug"' in author.page
    author.post("/library/write/new", slug="turnip", **fields)
    address = author.location
    text = text_of(author.get(address)) + "\nA turnip is a root.\n"
    send(author, address, text, "hand-in")
    desk.get("/library/turnip", 404)
    approve(manager, address)
    assert "A turnip is a root." in desk.get("/library/turnip")
    address = begin(manager, "turnip")
    send(manager, address, f"---\ntitle: What a turnip is\nredirect: {SLUG}\n---\n", "check", 200)
    assert "This retires the article" in manager.page
    send(manager, address, text_of(manager.page), "hand-in")
    approve(author, address)
    assert "A ballot is stuck at the slot" in desk.get("/library/turnip")


def test_history_shows_any_two_versions_and_goes_back_by_a_draft(sign_in: SignIn) -> None:
    author, manager = sign_in("author"), sign_in("manager")
    for new in (NEW_STOP, "Nobody at all opens a sealed cover"):
        old = STOP if new == NEW_STOP else NEW_STOP
        approve(manager, hand_in(author, old, new))
    page = author.get(f"/library/write/history/{SLUG}?from=shipped&to=2")
    assert "<ins> at all</ins>" in page.replace("<ins> ever</ins>", "")
    author.get(f"/library/write/history/{SLUG}?from=shipped&to=7", 400)
    address = begin(author, SLUG, "shipped")
    assert text_of(author.page) == (GOOD / "scanner" / f"{SLUG}.md").read_text("utf-8")
    send(author, address, text_of(author.page), "hand-in", note="Back")
    assert "Nobody at all opens a sealed cover" in author.get(PAGE)
    approve(manager, address)
    assert f"<strong>Stop.</strong> {STOP}" in author.get(PAGE)
    assert "The shipped text is in force" in author.get(f"/library/write/history/{SLUG}")
    begin(author, SLUG, "1")
    assert NEW_STOP in text_of(author.page)
    author.post(f"/library/write/begin/{SLUG}", 404, **{"from": "9"})
    author.post("/library/write/begin/no-such", 404)


def test_a_draft_set_aside_can_still_be_read(sign_in: SignIn) -> None:
    author = sign_in("author")
    address = begin(author)
    send(author, address, text_of(author.page).replace(STOP, NEW_STOP))
    author.post(f"{address}/move", do="set-aside")
    assert NEW_STOP in author.get(f"{address}/read")
    assert address in author.get(f"/library/write/history/{SLUG}")
    assert address not in author.get("/library/write")
