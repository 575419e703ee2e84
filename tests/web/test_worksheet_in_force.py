"""What a signed worksheet does to all other pages: silence is strict, own words are everywhere."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from datetime import date

import pytest
from flask import Flask
from flask.testing import FlaskClient

from kb.authoring import worksheet
from kb.authoring.sheet import Sheet, Signature
from kb.authoring.worksheet import Act
from kb.base.clock import now
from kb.incidents.store.folder import Folder
from kb.library.article import Library
from kb.library.ownwords import OwnWord
from kb.library.passages import Use, uses
from kb.library.text import first_step
from kb.triage.trees import load_trees
from kb.web.county import EXTENSION, County
from tests.web.conftest import Browser, SignIn

SIGNATURE = Signature("Dana Quill", "County counsel", date(2026, 10, 1))
OWN = {
    "rover": OwnWord("field technician", "field technicians"),
    "emergency compartment": OwnWord("auxiliary bin", "auxiliary bins"),
    "zero report": OwnWord("opening tape", "opening tapes"),
}


def put_in_force(app: Flask, folder: Folder, sheet: Sheet) -> None:
    act = Act("manager", now())
    folder.worksheet.take(
        "now",
        lambda before: worksheet.save(before, act, sheet),
        lambda before: worksheet.sign(before, act, SIGNATURE),
    )
    app.extensions[EXTENSION].renew()


@pytest.fixture
def manager(sign_in: SignIn) -> Browser:
    return sign_in("manager")


# The county's own words


def shows_a_term(text: str) -> list[str]:
    """The terms in a text; one account's name holds one, and names stay."""
    said = f" {text}".replace("Rover Person", "").lower()
    return [term for term in OWN if f" {term}" in said]


def test_own_words_stand_everywhere_and_the_record_keeps_the_librarys(
    manager: Browser, app: Flask, folder: Folder
) -> None:
    """One test for all pages, since the index is made anew for new words."""
    # Templates that were compiled before there were words must show them too.
    manager.get("/calls")
    assert "Send a rover; the case stays open" in manager.get(manager.post("/calls"))
    put_in_force(app, folder, Sheet("now", words=OWN))
    page = visible(manager.get("/library"))
    assert "opening tape" in page.lower()
    assert shows_a_term(page) == []

    said = "start the auxiliary bin"
    page = manager.get(f"/library?q={said.replace(' ', '+')}")
    found = page.split('class="results"')[1].split("</ol>")[0]
    assert "/library/emergency-compartment-start" in found
    assert shows_a_term(re.sub(r"<[^>]*>", "", found)) == []

    manager.get("/calls")
    call = manager.post("/calls")
    found = manager.get(f"{call}/results?q={said.replace(' ', '+')}")
    assert "/pick/emergency-compartment-start" in found
    assert shows_a_term(re.sub(r"<[^>]*>", "", found)) == []
    page = visible(manager.get(f"{call}/article/emergency-compartment-start"))
    assert "auxiliary bin" in page
    assert "Send a field technician; the case stays open" in page
    assert shows_a_term(page) == []

    seen = 0
    for tree in app.extensions[EXTENSION].trees.values():
        step = tree.steps[tree.first]
        page = visible(manager.get(f"{call}/tree/{tree.slug}"))
        assert shows_a_term(page) == [], tree.slug
        assert shows_a_term(visible(manager.get(f"/library/trees/{tree.slug}"))) == []
        label = step.branches[0].label
        if not shows_a_term(f"{tree.text}"):
            continue
        seen += 1
        manager.post(f"{call}/tree/{tree.slug}", step=f"{tree.slug}.{step.id}", answer=label)
        walked = folder.record.incident(call.rpartition("/")[2])
        assert walked is not None
        given = walked.walks[-1].history[0]
        assert (given.answer, given.hash) == (label, tree.hash)
    assert seen


# Unanswered is the strictest, everywhere


def visible(page: str) -> str:
    """What a reader sees of the page's main part, in one line."""
    main = page.partition('<main id="main" tabindex="-1">')[2].partition("</main>")[0]
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", main)).split())


def squeezed(text: str) -> str:
    """The text without spaces, since elements end where words do not."""
    return "".join(text.split())


def addresses(use: Use, call: str) -> list[str]:
    if use.is_tree:
        return [f"/library/trees/{use.slug}"]
    return [
        f"/library/{use.slug}",
        f"{call}/article/{use.slug}",
        f"{call.replace('calls', 'rounds')}/article/{use.slug}",
    ]


def every_use(library: Library) -> dict[str, tuple[Use, list[str]]]:
    """Each text with conditional passages that a page can show."""
    trees = load_trees(library)
    found: dict[str, tuple[Use, list[str]]] = {}
    for used in uses(library).values():
        for use in used:
            if not use.is_tree or use.slug in trees:
                found.setdefault(use.slug, (use, []))[1].extend(use.passages)
    return found


def pages_of(client: FlaskClient, use: Use, call: str) -> Iterator[tuple[str, str]]:
    for address in addresses(use, call):
        response = client.get(address)
        assert response.status_code == 200, address
        yield address, squeezed(visible(response.text))


def opened_call(manager: Browser) -> str:
    manager.get("/calls")
    return manager.post("/calls")


def test_unanswered_no_conditional_text_is_on_any_page_and_with_yes_each_is(
    manager: Browser, app: Flask, folder: Folder, library: Library
) -> None:
    """Article, call, stop, tree: each is also its own print, since the same page is printed."""
    call, found = opened_call(manager), every_use(library)
    assert len(found) > 30
    for use, passages in found.values():
        for address, page in pages_of(manager.client, use, call):
            for text in passages:
                assert squeezed(text) not in page, (address, text)
    put_in_force(app, folder, Sheet("now", dict.fromkeys(library.rules.questions, True)))
    for use, passages in found.values():
        for address, page in pages_of(manager.client, use, call):
            for text in passages:
                assert squeezed(text) in page, (address, text)


def test_unanswered_no_conditional_text_comes_out_of_search(
    app: Flask, folder: Folder, library: Library
) -> None:
    county: County = app.extensions[EXTENSION]
    found = every_use(library)
    told = _results(county, found)
    for _, passages in found.values():
        for text in passages:
            assert squeezed(text) not in told, text
    answers = dict.fromkeys(library.rules.questions, True)
    put_in_force(app, folder, Sheet("now", answers))
    told = _results(county, found)
    for slug in found:
        article = library.articles.get(slug)
        if article and first_step(article) != first_step(article, answers):
            assert squeezed(first_step(article, answers)) in told


def _results(county: County, found: dict[str, tuple[Use, list[str]]]) -> str:
    """All that results show for searches by the very words of each conditional text."""
    shown: list[str] = []
    for use, passages in found.values():
        title = county.library.articles[use.slug].title if not use.is_tree else use.slug
        for words in [title, *passages]:
            shown += [
                f"{hit.title} {hit.stop} {hit.first_step} {hit.snippet}"
                for hit in county.search(words[:400]).hits
            ]
    return squeezed(" ".join(shown))
