"""A checkpoint's sheet in a real browser: accessible on a phone, and one sheet of paper."""

from __future__ import annotations

from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.browser.conftest import SignIn, check_accessible

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", [320, 1440])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_sheet_is_accessible(sign_in: SignIn, width: int, scheme: str) -> None:
    page = sign_in("Canvass board", width=width, color_scheme=scheme)
    page.goto("/record/proof")
    check_accessible(page)
    page.locator("tbody a").first.click()
    # The picture is fetched after the page is there: decode() waits for it, and fails on a bad one.
    page.get_by_role("img").evaluate("image => image.decode()")
    check_accessible(page)


@pytest.mark.parametrize("size", ["Letter", "A4"])
def test_the_sheet_is_one_page_with_the_whole_note(
    sign_in: SignIn, tmp_path: Path, size: str
) -> None:
    page = sign_in("Manager")
    page.goto("/record/proof")
    page.locator("tbody a").first.click()
    note = page.locator("pre").last.inner_text()
    page.pdf(path=tmp_path / "sheet.pdf", format=size)
    (sheet,) = PdfReader(tmp_path / "sheet.pdf").pages
    printed = "".join(sheet.extract_text().split())
    assert "".join(note.split()) in printed
    assert printed.count("Signature") == 2
