"""An author edits with a live preview, a second person approves, the hotline finds the words."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import SignIn, check_accessible

pytestmark = pytest.mark.browser
PAGE = "/library/jam-at-entry"
PHRASE = "a pelican feather in the slot"


def change(page: Page, old: str, new: str) -> None:
    """Type over the first place where the text says `old`."""
    page.locator("#edit-text").evaluate(
        """(area, [old, fresh]) => {
          const at = area.value.indexOf(old);
          area.focus();
          area.setSelectionRange(at, at + old.length);
          document.execCommand('insertText', false, fresh);
        }""",
        [old, new],
    )


def edit(page: Page) -> None:
    page.goto(PAGE)
    page.get_by_role("button", name="Edit").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Editing: ")


def test_from_a_draft_to_the_hotline(sign_in: SignIn) -> None:
    author = sign_in("Author", width=1440)
    edit(author)
    check_accessible(author)
    change(author, "stop: ", "stop: Nevermore, ")
    expect(author.locator("#preview .stop")).to_contain_text("Nevermore, ")
    change(author, "equipment: scanner", "equipment: skanner")
    expect(author.locator("#problems")).to_contain_text("LB108")
    check_accessible(author)
    author.locator("#problems a").first.click()
    chosen = author.locator("#edit-text").evaluate(
        "area => area.value.slice(area.selectionStart, area.selectionEnd)"
    )
    assert chosen == "equipment: skanner"
    change(author, "skanner", "scanner")
    change(author, "phrases:\n", f"phrases:\n  - {PHRASE}\n")
    expect(author.locator("#problems")).to_contain_text("The check finds nothing")
    expect(author.locator("#saved")).to_contain_text("Saved at")
    author.reload()
    assert PHRASE in author.get_by_label("The text").input_value()
    author.get_by_label("What you changed, and why").fill("A caller said so")
    author.get_by_role("button", name="Hand in").click()
    expect(author.locator(".facts")).to_contain_text("Waits for a second reader")
    check_accessible(author)

    manager = sign_in("Manager", width=360)
    manager.goto("/library/write")
    check_accessible(manager)
    manager.locator(".edits a").first.click()
    expect(manager.locator(".differences")).to_contain_text(PHRASE)
    check_accessible(manager)
    manager.get_by_role("button", name="Approve and publish").click()
    expect(manager.get_by_role("heading", level=1)).to_contain_text("History: ")
    check_accessible(manager)

    desk = sign_in("Hotline")
    desk.goto("/library?q=pelican+feather")
    expect(desk.locator(".hit").first).to_have_attribute("href", PAGE)
    desk.goto(PAGE)
    expect(desk.locator(".stop").first).to_contain_text("Nevermore, ")


def test_two_tabs_and_two_authors_lose_nothing(sign_in: SignIn) -> None:
    author = sign_in("Author", width=820)
    edit(author)
    other = author.context.new_page()
    other.goto(author.url)
    change(author, "reviewed:", "minutes: 4\nreviewed:")
    expect(author.locator("#saved")).to_contain_text("Saved at")
    change(other, "phrases:\n", "phrases:\n  - an ostrich plume\n")
    expect(other.locator("#told")).to_contain_text("saved elsewhere")
    check_accessible(other)
    mine = other.get_by_label("The text").input_value()
    other.locator("#told button").click()
    expect(other).not_to_have_url(author.url)
    assert other.get_by_label("The text").input_value() == mine
    expect(author.get_by_label("The text")).to_have_value(re.compile("minutes: 4\nreviewed:"))

    manager = sign_in("Manager", width=320)
    edit(manager)
    change(manager, "stop: ", "stop: Mind this, ")
    manager.get_by_label("What you changed, and why").fill("Mind it")
    manager.get_by_role("button", name="Hand in").click()
    author.goto(manager.url)
    author.get_by_role("button", name="Approve and publish").click()
    other.reload()
    other.get_by_role("link", name="Look at both").click()
    check_accessible(other)
    other.get_by_role("button", name="Go on with the merge").click()
    merged = other.get_by_label("The text").input_value()
    assert "ostrich plume" in merged
    assert "Mind this, " in merged


def test_the_editor_without_scripts(sign_in: SignIn) -> None:
    page = sign_in("Author", width=320, java_script_enabled=False)
    page.goto("/library/trees/ballot-jam")
    page.get_by_role("button", name="Edit").click()
    text = page.get_by_label("The text").input_value()
    page.get_by_label("The text").fill(text.replace("stop: ", "stop: Mind this, "))
    page.get_by_role("button", name="Preview and check").click()
    expect(page.locator("#preview .stop")).to_contain_text("Mind this, ")
