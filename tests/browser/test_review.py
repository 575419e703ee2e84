"""A manager looks back: findings, the rows behind one, a place's story, an action, the report."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, Playwright, expect
from pypdf import PdfReader

from tests.browser.conftest import CHROMIUM, SignIn, check_accessible

pytestmark = pytest.mark.browser


def finding(page: Page, title: str) -> Locator:
    return page.locator(".findings > li", has_text=title)


def test_from_a_finding_to_its_rows_the_place_an_action_and_the_report(
    sign_in: SignIn, tmp_path: Path, playing: Playwright
) -> None:
    page = sign_in("Manager")
    page.get_by_role("link", name="Review").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Review: Spring election")
    check_accessible(page)

    high = finding(page, "P27 Chandler's Hall had more faults than chance explains")
    high.get_by_role("link", name=re.compile("^Cases")).click()
    expect(page.locator("main")).to_contain_text("P27")
    rows = page.locator("tbody tr")
    expect(rows).to_have_count(9)
    page.go_back()

    high.get_by_role("link", name="The place's story").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Chandler's Hall")
    expect(page.locator(".story")).to_have_count(9)
    page.go_back()

    high.get_by_role("link", name=re.compile("^How this was found")).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Places compared")
    expect(page.get_by_role("img", name=re.compile("Faults per 1,000 ballots"))).to_be_visible()
    page.get_by_role("link", name="All findings of Spring election").click()

    high.get_by_role("link", name=re.compile("^Decide what to do")).click()
    check_accessible(page)
    page.get_by_role("button", name="Keep the action").click()
    expect(page.get_by_role("alert")).to_contain_text("Write what is to be done")
    page.get_by_label("Action", exact=True).fill(
        "Send the scanner of P27 to service before the next election"
    )
    page.get_by_label("Who sees to it").fill("Equipment manager")
    page.get_by_label("Due", exact=True).fill("2031-03-01")
    page.get_by_role("button", name="Keep the action").click()
    expect(page.locator("main")).to_contain_text("Send the scanner of P27 to service")
    expect(page.locator("main")).to_contain_text("lower is better")
    check_accessible(page)

    page.get_by_role("link", name="Report").click()
    plan = page.locator("section", has=page.get_by_role("heading", name=re.compile("^Appendix A")))
    expect(plan).to_contain_text("Send the scanner of P27 to service")
    with page.expect_download() as taken:
        page.get_by_role("link", name=re.compile("^Take it away")).click()
    with zipfile.ZipFile(io.BytesIO(taken.value.path().read_bytes())) as archive:
        archive.extractall(tmp_path)

    pages = printed_alone(playing, tmp_path / "report.html")
    assert "After-action report and improvement plan" in pages[0]
    assert f"1 of {len(pages)}" in pages[0]
    assert "Signatures" in pages[-1]
    whole = " ".join(pages)
    assert "Send the scanner of P27 to service" in whole
    assert "Canvass board, name and signature" in whole


def printed_alone(playing: Playwright, path: Path) -> list[str]:
    """The words of each printed page of a file that is opened without any server."""
    browser = playing.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
    page = browser.new_page()
    wanted: list[str] = []
    page.on("request", lambda request: wanted.append(request.url))
    page.goto(path.as_uri())
    check_accessible(page)
    found = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    browser.close()
    assert len(wanted) == 1
    return [" ".join(one.extract_text().split()) for one in found.pages]


def test_the_filter_is_kept_from_page_to_page(sign_in: SignIn) -> None:
    page = sign_in("Canvass board", width=360)
    page.goto("/review?election=spring")
    page.get_by_label("Zone", exact=True).select_option("Saltmarsh")
    page.get_by_label("Time of day").select_option("morning")
    page.get_by_role("button", name="Show").click()
    expect(page.locator("main")).to_contain_text("Saltmarsh, until noon")
    page.get_by_role("link", name="Minutes to restore").click()
    expect(page).to_have_url(re.compile("zone=Saltmarsh&part=morning"))
    expect(page.get_by_label("Zone", exact=True)).to_have_value("Saltmarsh")
    check_accessible(page)
    page.get_by_role("link", name="All findings of Spring election").click()
    expect(page.get_by_label("Time of day")).to_have_value("morning")
