"""One call through the whole house: the hotline by keyboard, the rover at 360 px, the manager."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import SignIn, check_accessible

pytestmark = pytest.mark.browser
PLACE = "Windmill Club"
STRUCK: list[str] = []
MOST_KEYS = 45
WORDS = "the ballot jammed going into the slot"


def tab_to(page: Page, wanted: str, limit: int = 40) -> None:
    """Press Tab until what has the focus is named `wanted`, as a person without a mouse does."""
    for _ in range(limit):
        strike(page, "Tab")
        name = page.evaluate(
            """() => {
              const at = document.activeElement;
              return (at.labels?.length ? at.labels[0].innerText : at.innerText || '').trim();
            }"""
        )
        if re.fullmatch(wanted, name):
            return
    raise AssertionError(f"Tab never reached {wanted!r} on {page.url}")


def strike(page: Page, key: str) -> None:
    """One stroke of a key, counted: the words typed are not."""
    STRUCK.append(key)
    page.keyboard.press(key)


def press(page: Page, key: str) -> None:
    with page.expect_navigation():
        strike(page, key)


def answer(page: Page, wanted: str) -> None:
    tab_to(page, wanted)
    press(page, "Enter")


def take_call(page: Page) -> str:
    """The hotline's part, by the keyboard alone; returns the case's number."""
    STRUCK.clear()
    expect(page.get_by_role("heading", level=1)).to_have_text("Calls")
    press(page, "Enter")  # the button "Answer a call" has the focus
    page.keyboard.type(PLACE)
    press(page, "Enter")
    expect(page.get_by_label("The caller's own words")).to_be_focused()
    page.keyboard.type(WORDS)
    expect(page.locator("#results .hit").first).to_have_text(re.compile("Ballot jams going in"))
    press(page, "Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text(PLACE)
    check_accessible(page)
    # The first that was found has the focus: the one to open is an Enter away.
    expect(page.locator("#results .hit").first).to_be_focused()
    press(page, "Enter")
    expect(page.locator(".panel .stop")).to_contain_text("Nobody pulls hard")
    check_accessible(page)
    answer(page, "Walk through it, question by question")
    check_accessible(page)
    for said in ("No", "No", "No", "It says the ballot was counted", "No"):
        # The page puts the focus on its question once it is drawn; nobody is faster than that.
        expect(page.locator("#question")).to_be_focused()
        answer(page, said)
    expect(page.locator("#question")).to_be_focused()
    expect(page.locator("#question")).to_have_text("Leave the cover shut and send a rover")
    expect(page.locator(".voting")).to_contain_text("emergency compartment")
    check_accessible(page)
    tab_to(page, "Go on to how the call ends")
    strike(page, "Enter")
    tab_to(page, "Send a rover.*")  # filled in by the end of the tree
    expect(page.get_by_label("Send a rover; the case stays open")).to_be_checked()
    expect(page.get_by_label("slowed")).to_be_checked()
    tab_to(page, "Rover")
    page.keyboard.type("Fenna")
    number = re.search(r"\d+", page.locator("h1").inner_text())
    assert number
    tab_to(page, "Finish the call")
    press(page, "Enter")
    assert len(STRUCK) <= MOST_KEYS, STRUCK
    return number.group()


def work_stop(page: Page, number: str) -> None:
    """The rover's part, on a small phone."""
    check_accessible(page)
    page.locator(".stops li", has_text=f"case {number}").get_by_role("link").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(PLACE)
    expect(page.locator(".tried")).to_contain_text("It says the ballot was counted")
    check_accessible(page)
    page.get_by_role("button", name="I am here").click()

    def task(name: str) -> None:
        page.get_by_role("link", name=name, exact=True).click()
        check_accessible(page)

    task("Counter")
    page.locator("input[name=asset]").first.check()
    page.get_by_label("before").check()
    page.get_by_label("Public counter").fill("412")
    page.get_by_role("button", name="Store").click()
    task("Seal off or on")
    page.get_by_label("It comes off").check()
    page.locator("input[name=seal]").first.check()
    page.get_by_label("scanner cover").check()
    page.get_by_label("whole").check()
    page.get_by_role("button", name="Store").click()
    task("Two witnesses")
    page.get_by_role("button", name="Store").click()
    expect(page.get_by_role("alert")).to_contain_text("Name witness 2.")
    check_accessible(page)
    for which, name in (("1", "Una Pellusk"), ("2", "Rolf Astilga")):
        page.locator(f"#name{which}").fill(name)
        page.locator(f"#role{which}").select_option("poll worker")
        page.locator(f"#confirmed{which}").select_option("signature")
    page.get_by_role("button", name="Store").click()
    expect(page.locator(".written").first).to_contain_text("witness Rolf Astilga")
    task("It works again")
    page.get_by_label("fixed on site").check()
    page.get_by_role("button", name="Store").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("My stops")
    expect(page.locator("main")).to_contain_text(f"Case {number}, {PLACE}")


def test_one_call_goes_all_the_way(sign_in: SignIn) -> None:
    hotline = sign_in("Hotline")
    number = take_call(hotline)

    manager = sign_in("Manager")
    expect(manager.get_by_role("heading", level=1)).to_contain_text("Now")
    row = manager.locator("tbody tr", has_text=f"No. {number}")
    expect(row).to_contain_text("slowed")
    expect(row).to_contain_text("Fenna")

    rover = sign_in("Rover", width=360, height=740)
    work_stop(rover, number)

    # Now polls: the closed case leaves the open ones without a reload.
    expect(row).to_have_count(0, timeout=15_000)
    manager.get_by_role("link", name="Review").click()
    manager.get_by_label("Election").select_option("General election")
    manager.get_by_role("button", name="Show").click()
    manager.get_by_role("link", name="Kinds of fault").click()
    kinds = manager.get_by_role("region", name="Table: Kinds of fault by count")
    expect(kinds).to_contain_text("scanners, jam")
    manager.get_by_role("link", name="All findings").click()
    manager.get_by_role("link", name="Totals").click()
    places = manager.get_by_role("region", name="Table: By place")
    places.get_by_role("link", name=re.compile(f" {PLACE}$")).click()
    story = manager.locator("main")
    for told in (
        WORDS,
        "seal",
        "public 412",
        "Una Pellusk",
        "Rolf Astilga",
        "fixed on site",
        number,
    ):
        expect(story).to_contain_text(told)
    check_accessible(manager)


def test_without_scripts_a_call_is_made_all_the_same(sign_in: SignIn) -> None:
    page = sign_in("Hotline", java_script_enabled=False)
    page.get_by_role("button", name="Answer a call").click()
    page.get_by_label("Place").fill(PLACE)
    page.get_by_label("The caller's own words").fill(WORDS)
    page.get_by_role("button", name="Find the fix").click()
    page.get_by_role("button", name="Ballot jams going in").click()
    page.get_by_role("link", name="Walk through it").click()
    page.get_by_role("button", name="Yes, or I am not sure").click()
    expect(page.locator("main")).to_contain_text("911")
    expect(page.get_by_label("Keep the case open; somebody calls back")).to_be_checked()


def test_a_closed_browser_loses_nothing_typed(sign_in: SignIn) -> None:
    page = sign_in("Hotline")
    page.get_by_role("button", name="Answer a call").click()
    with page.expect_response(re.compile("/draft$")):
        page.get_by_label("Note", exact=True).type("the judge will call back")
    address = page.url
    page.context.close()
    again = sign_in("Hotline")
    again.goto(address)
    expect(again.get_by_label("Note", exact=True)).to_have_value("the judge will call back")
