"""On a slow phone (a quarter of this machine's speed, 360 px) pages show soon and do not jump."""

from __future__ import annotations

import pytest

from tests.browser.conftest import SignIn

pytestmark = pytest.mark.browser

PAGES = {
    "Hotline": ["/calls", "/library?q=paper+jam", "/library/jam-at-entry"],
    "Rover": ["/rounds", "/rounds/field"],
    "Manager": ["/now", "/incidents", "/review"],
}
FIRST_CONTENT = 1500  # milliseconds
SHIFT = 0.05
_MEASURE = """() => new Promise((done) => {
  let shift = 0;
  new PerformanceObserver((list) => {
    for (const one of list.getEntries()) if (!one.hadRecentInput) shift += one.value;
  }).observe({ type: 'layout-shift', buffered: true });
  setTimeout(() => done([
    performance.getEntriesByName('first-contentful-paint')[0].startTime, shift]), 1200);
})"""


def test_pages_show_soon_and_do_not_jump(sign_in: SignIn) -> None:
    slow = []
    for role, addresses in PAGES.items():
        page = sign_in(role, width=360, height=740)
        # The server's first answer loads what it needs for good: that is nobody's phone.
        for address in addresses:
            page.goto(address)
        phone = page.context.new_cdp_session(page)
        phone.send("Emulation.setCPUThrottlingRate", {"rate": 4})
        for address in addresses:
            page.goto(address)
            content, shift = page.evaluate(_MEASURE)
            if content >= FIRST_CONTENT or shift > SHIFT:
                slow.append((address, round(content), round(shift, 3)))
    assert slow == []
