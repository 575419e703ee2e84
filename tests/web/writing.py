"""An author's and a second reader's steps, for the tests of the pages that write the library."""

from __future__ import annotations

import html
import re
from pathlib import Path

from flask import Flask

from kb.incidents.store.folder import Folder
from kb.library.store import load
from kb.web.county import EXTENSION, County
from tests.web.conftest import Browser

# A library of a few texts: each page checks a draft within the whole of it.
GOOD = Path(__file__).parent.parent / "fixtures" / "library_good"
SLUG = "paper-stuck"
PAGE = f"/library/{SLUG}"
STOP, NEW_STOP = "Nobody opens a sealed cover", "Nobody ever opens a sealed cover"


def start(app: Flask, folder: Folder, articles: Path = GOOD) -> None:
    """Let the application start over a shipped library."""
    app.extensions[EXTENSION] = County(folder, load(articles)[0], None)


def begin(browser: Browser, slug: str = SLUG, way: str = "current") -> str:
    """Begin an edit; the address of its editor, which is open then."""
    browser.get("/library/write")
    browser.post(f"/library/write/begin/{slug}", **{"from": way})
    address = browser.location
    browser.get(address)
    return address


def text_of(page: str) -> str:
    found = re.search(r"<textarea[^>]*>\n(.*?)</textarea>", page, flags=re.DOTALL)
    assert found
    return html.unescape(found.group(1))


def revision_of(page: str) -> str:
    found = re.search(r'name="revision" value="(\d+)"', page)
    assert found
    return found.group(1)


def send(
    browser: Browser,
    address: str,
    text: str,
    do: str = "save",
    status: int = 303,
    note: str = "Said more clearly",
    revision: str | None = None,
) -> str:
    """Send the editor's form, with the revision of the page that is open unless one is given."""
    return browser.post(
        address, status, text=text.replace("\n", "\r\n"), note=note, do=do,
        revision=revision or revision_of(browser.page),
    )  # fmt: skip


def hand_in(browser: Browser, old: str, new: str, slug: str = SLUG) -> str:
    """Change a text and hand it in; the edit's address."""
    address = begin(browser, slug)
    text = text_of(browser.page)
    assert old in text
    send(browser, address, text.replace(old, new, 1), "hand-in")
    return address


def approve(browser: Browser, address: str, status: int = 303) -> None:
    browser.get(f"{address}/read")
    browser.post(
        f"{address}/decide", status, do="approve", revision=revision_of(browser.page), reason=""
    )
