"""Every page at phone and desk width, light and dark: axe-core finds nothing, nothing overflows."""

from __future__ import annotations

import pytest

from tests.browser.conftest import SignIn, check_accessible

pytestmark = pytest.mark.browser

PAGES = {
    "Hotline": ["/calls", "/notices", "/now", "/incidents", "/library", "/library?q=no+power"],
    "Rover": ["/rounds"],
    "Manager": [
        "/now", "/county-wide", "/notices", "/roll-call", "/dispatch", "/calls/line",
        "/incidents?status=closed", "/places/P12", "/review", "/review?election=today",
        # The pages of all methods are made alike; these have each kind of figure and table.
        "/review/methods/funnel?election=spring", "/review/methods/restore?election=spring",
        "/review/methods/rates?election=spring", "/review/methods/hotline?election=spring",
        "/review/methods/training?election=spring",
        "/review/compare", "/review/actions", "/review/actions/new?election=spring",
        "/review/report",
        "/record/proof", "/office",
        "/worksheet", "/worksheet/fill", "/worksheet/paper", "/worksheet/check",
    ],
    "Author": [
        "/library/jam-at-entry", "/library/open-the-polls", "/library/trees/ballot-jam",
        "/library/write", "/library/write/new", "/library/write/history/jam-at-entry",
        "/library/print", "/library/print/booklet?codes=101-102,171",
        "/library/print/cards?equipment=power",
        "/library/learning", "/library/learning/figures",
        "/library/learning/articles/jam-at-entry", "/library/learning/trees/ballot-jam",
    ],
    "Administrator": [
        "/office", "/office/people", "/office/people/new", "/office/people/hotline.quillon",
        "/office/people/hotline.quillon/change", "/office/roles", "/office/refusals", "/account",
    ],
}  # fmt: skip


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 820, 1440])
def test_pages_are_accessible(sign_in: SignIn, width: int, scheme: str) -> None:
    for role, addresses in PAGES.items():
        page = sign_in(role, width=width, color_scheme=scheme)
        for address in addresses:
            page.goto(address)
            check_accessible(page)


def test_the_pages_before_sign_in_are_accessible(sign_in: SignIn) -> None:
    page = sign_in("Administrator", width=360)
    page.goto("/office/people/hotline.quillon")
    page.get_by_role("button", name="Print it as a slip").click()
    check_accessible(page)
    page.goto("/office/people/hotline.quillon")
    page.get_by_role("button", name="Make a one-time link").click()
    check_accessible(page)
    link = page.get_by_label("Link").input_value()
    page.get_by_role("button", name="Sign out").click()
    check_accessible(page)
    page.goto(link)
    check_accessible(page)


def test_targets_of_rounds_are_large(sign_in: SignIn) -> None:
    page = sign_in("Rover", width=360)
    page.locator(".stop-link").first.click()
    small = page.evaluate(
        """() => [...document.querySelectorAll('main a, main button')]
          .filter((one) => one.closest('.facts') === null)
          .filter((one) => one.getBoundingClientRect().height < 56)
          .map((one) => one.innerText)"""
    )
    assert small == []
