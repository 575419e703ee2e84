"""Callers' words accepted by one key, and no key taken from somebody who types."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import SignIn, check_accessible

pytestmark = pytest.mark.browser
ODD = ("the gronk frizzles over", "wibbled zorple on the gronk", "quonk in the zorple")


def focused(page: Page) -> str:
    return str(page.evaluate("document.activeElement.querySelector('.said')?.innerText ?? ''"))


def searched(sign_in: SignIn) -> None:
    """Three searches that find nothing, by somebody at the hotline."""
    page = sign_in("Hotline")
    for words in ODD:
        page.goto(f"/library?q={words}")
        expect(page.locator(".unsure")).to_contain_text("Nothing fits these words well")


def test_one_key_accepts_and_search_finds_it_at_once(sign_in: SignIn) -> None:
    searched(sign_in)
    page = sign_in("Author")
    page.goto("/library/learning")
    check_accessible(page)
    offered = page.locator("#offered ~ ol.heard").first.locator("li")
    while focused(page) != offered.first.locator(".said").inner_text():
        page.keyboard.press("j")
    words = offered.first.locator(".said").inner_text().strip("“”")
    title = offered.first.get_by_role("link").inner_text()
    second = offered.nth(1).locator(".said").inner_text()
    page.keyboard.press("a")
    expect(page.locator("#done")).to_have_text(f"Accepted: “{words}”")
    assert focused(page) == second, "the next line is ready for the next key"
    desk = sign_in("Hotline")
    desk.goto(f"/library?q={words}")
    expect(desk.locator(".results .hit").first).to_have_text(title)
    expect(desk.locator(".unsure")).to_have_count(0)
    page.reload()
    expect(page.get_by_text(f"“{words}”", exact=True).locator("visible=true")).to_have_count(0)


def test_keys_set_aside_undo_and_ask_for_the_article(sign_in: SignIn) -> None:
    searched(sign_in)
    page = sign_in("Author")
    page.goto("/library/learning")
    lines = page.locator("#missed ~ ol.heard").first.locator("li")
    before = lines.count()
    first = focused(page)
    page.keyboard.press("x")
    expect(page.locator("#done")).to_have_text(re.compile("^Set aside"))
    expect(lines).to_have_count(before - 1)
    page.keyboard.press("u")
    expect(lines).to_have_count(before)
    assert focused(page) == first
    # Without an article the key leads to its field, and letters typed there are letters.
    page.keyboard.press("a")
    expect(lines.first.get_by_label("Article")).to_be_focused()
    page.keyboard.type("axuj")
    expect(lines.first.get_by_label("Article")).to_have_value("axuj")
    expect(lines).to_have_count(before)


def test_without_scripts_each_line_has_its_buttons(sign_in: SignIn) -> None:
    searched(sign_in)
    page = sign_in("Author", java_script_enabled=False)
    page.goto("/library/learning")
    line = page.locator("#missed ~ ol.heard").first.locator("li", has_text=ODD[2])
    expect(page.locator("#keys")).to_be_hidden()
    line.get_by_role("button", name="Set aside").click()
    again = page.get_by_role("button", name=re.compile(f"^Offer again ?: {ODD[2]}"))
    expect(again).to_be_visible()
