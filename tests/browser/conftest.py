"""A real Chromium on the demo county, served as `latchbook demo` serves it."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Playwright, sync_playwright

CHROMIUM = "/usr/bin/chromium"
AXE = Path(__file__).parent / "axe" / "axe.min.js"
# WCAG 2.2 AA and everything below it, plus axe-core's best practices.
STANDARDS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(scope="session")
def demo() -> Iterator[dict[str, str]]:
    """The demo as a process: its address under "", and a login a role; "password" for all."""
    command = [sys.executable, "-u", "-m", "kb", "demo", "--port", "0"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as process:
        found: dict[str, str] = {}
        assert process.stdout
        for line in process.stdout:
            if match := re.match(r"  (\S.*?)\s{2,}(\S+)\s+(\S+)$", line):
                role, login, found["password"] = match.groups()
                found[role] = login
            if match := re.search(r"http://\S+[^/\s]", line):
                found["address"] = match.group()
                break
        yield found
        process.terminate()


@pytest.fixture(scope="session")
def playing() -> Iterator[Playwright]:
    """The one driver of a process: a second beside it would not start."""
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def chromium(playing: Playwright) -> Iterator[Browser]:
    browser = playing.chromium.launch(
        executable_path=CHROMIUM,
        args=["--no-sandbox", "--disable-background-networking", "--disable-component-update"],
    )
    yield browser
    browser.close()


SignIn = Callable[..., Page]


@pytest.fixture
def sign_in(chromium: Browser, demo: dict[str, str]) -> Iterator[SignIn]:
    """A page of a signed-in role: `sign_in("Rover", width=360)`. Errors of the page fail."""
    opened = []
    faults: list[str] = []

    def enter(role: str, width: int = 1280, height: int = 900, **options: object) -> Page:
        context = chromium.new_context(
            viewport={"width": width, "height": height},
            base_url=demo["address"],
            **options,  # type: ignore[arg-type]
        )
        opened.append(context)
        page = context.new_page()
        page.set_default_timeout(10_000)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on(
            "console",
            # A form with a fault is answered with 422, which Chromium calls an error.
            lambda message: (
                faults.append(message.text)
                if message.type == "error" and "422" not in message.text
                else None
            ),
        )
        page.goto("/sign-in")
        page.get_by_label("Login").fill(demo[role])
        page.get_by_label("Password").fill(demo["password"])
        with page.expect_navigation():
            page.keyboard.press("Enter")
        return page

    yield enter
    for context in opened:
        context.close()
    assert faults == []


def check_accessible(page: Page) -> None:
    """No violation by axe-core, and nothing to scroll sideways but tables in their frame."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("standards => axe.run(document, {runOnly: standards})", STANDARDS)
    faults = [
        f"{fault['id']}: {fault['help']}: {[node['html'][:160] for node in fault['nodes']]}"
        for fault in found["violations"]
    ]
    assert faults == [], page.url
    assert found["passes"]
    sideways = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    assert sideways <= 0, f"{page.url} scrolls sideways by {sideways} px"
