"""Makes the pictures of the README from the demo: python demo/pictures/make.py

Needs a checkout with .[test] and Debian's Chromium.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

HERE = Path(__file__).parent
WIDE, PHONE = {"width": 1180, "height": 780}, {"width": 360, "height": 700}


def main() -> None:
    """Start the demo, walk through it, and take the pictures."""
    command = [sys.executable, "-u", "-m", "kb", "demo", "--port", "0"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as demo:
        try:
            logins: dict[str, str] = {}
            address = password = ""
            assert demo.stdout
            for line in demo.stdout:
                if match := re.match(r"  (\S.*?)\s{2,}(\S+)\s+(\S+)$", line):
                    role, logins[role], password = match.groups()
                if match := re.search(r"http://\S+[^/\s]", line):
                    address = match.group()
                    break
            with sync_playwright() as playing:
                browser = playing.chromium.launch(
                    executable_path="/usr/bin/chromium", args=["--no-sandbox"]
                )
                _take(browser, address, logins, password)
                browser.close()
        finally:
            demo.terminate()


def _take(browser: Browser, address: str, logins: dict[str, str], password: str) -> None:
    def enter(role: str, size: dict[str, int]) -> Page:
        context = browser.new_context(base_url=address, viewport=size)  # type: ignore[arg-type]
        page = context.new_page()
        page.goto("/sign-in")
        page.get_by_label("Login").fill(logins[role])
        page.get_by_label("Password").fill(password)
        with page.expect_navigation():
            page.get_by_role("button", name="Sign in").click()
        return page

    def shoot(page: Page, name: str) -> None:
        page.wait_for_timeout(400)
        page.screenshot(path=HERE / f"{name}.png")

    desk = enter("Hotline", WIDE)
    with desk.expect_navigation():
        desk.get_by_role("button", name="Answer a call").click()
    desk.get_by_label("Place", exact=True).fill("Windmill Club")
    desk.keyboard.press("Enter")
    desk.get_by_label("The caller's own words").fill("the ballot jammed going into the slot")
    desk.locator("#results .hit").first.wait_for()
    shoot(desk, "calls")
    desk.goto("/library/jam-at-entry")
    shoot(desk, "library")
    desk.goto("/library/print/cards?equipment=scanner")
    desk.emulate_media(media="print")
    shoot(desk, "cards")
    rover = enter("Rover", PHONE)
    rover.goto("/rounds/field")
    rover.wait_for_selector("html[data-ready=yes]")
    rover.locator("a.stop-link").first.click()
    shoot(rover, "rounds")
    manager = enter("Manager", WIDE)
    for name in ("now", "review", "office"):
        manager.goto(f"/{name}")
        shoot(manager, name)


if __name__ == "__main__":
    main()
