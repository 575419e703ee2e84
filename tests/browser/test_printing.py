"""The booklet on paper: a PDF by a real browser, read back page by page."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.browser.conftest import SignIn

pytestmark = pytest.mark.browser


FOOT = re.compile(r"Card (\d{3}) · (.+?) · version ([0-9a-f]{8})")


def test_every_page_of_the_booklet_names_its_text(sign_in: SignIn, tmp_path: Path) -> None:
    page = sign_in("Author", width=1000)
    page.goto("/library/print/booklet")
    contents = [row.split("\t")[0] for row in page.locator(".contents tbody tr").all_inner_texts()]
    page.pdf(path=tmp_path / "booklet.pdf", prefer_css_page_size=True)
    pages = PdfReader(tmp_path / "booklet.pdf").pages
    printed = [" ".join(one.extract_text().split()) for one in pages]
    feet = [FOOT.search(text) for text in printed]
    first = next(number for number, foot in enumerate(feet) if foot)
    assert [number for number, foot in enumerate(feet) if not foot] == list(range(first))
    assert list(dict.fromkeys(foot[1] for foot in feet if foot)) == contents
    assert len(contents) > 160
