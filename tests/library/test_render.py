"""HTML of articles: valid, with headings, ids and marks that a page can rely on.

Judge of validity: html5lib, the reference parser of the HTML standard's parsing rules, strict.
"""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import html5lib
import pytest

from kb.library import store
from kb.library.article import Article
from kb.library.parse import parse_article
from kb.library.render import render

GOOD = Path(__file__).parent.parent / "fixtures" / "library_good"
STUCK = (GOOD / "scanner" / "paper-stuck.md").read_text(encoding="utf-8")


def article_of(text: str) -> Article:
    article, _ = parse_article(text, "articles/scanner/a.md")
    assert article is not None
    return article


def note(body: str) -> Article:
    return article_of(f"---\ntitle: A\nkind: note\n---\n{body}")


def tree_of(html: str) -> ET.Element:
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    return parser.parse(f"<!doctype html><title>t</title><body>{html}")


def test_headings_begin_at_two_and_carry_their_words() -> None:
    body = tree_of(render(article_of(STUCK)).html)
    found = [(one.tag, one.get("id")) for one in body.iter() if one.tag in {"h1", "h2"}]
    assert found == [
        ("h2", "what-you-will-hear"),
        ("h2", "cautions"),
        ("h2", "do-this"),
        ("h2", "if-that-did-not-help"),
        ("h2", "stop-and-call"),
        ("h2", "write-down"),
    ]


def test_ids_are_unique_and_a_level_one_heading_is_lowered() -> None:
    html = render(note("# A b!\n\n## A b\n\n## A b\n\n{#own}\n## C\n")).html
    assert [part.split('"')[0] for part in html.split('<h2 id="')[1:]] == [
        "a-b",
        "a-b-2",
        "a-b-3",
        "own",
    ]
    assert "<h1" not in html


def test_what_should_be_seen_is_marked_and_a_title_is_not() -> None:
    text = STUCK.replace("Call the hotline. *They answer.*", "Go to *box full*. *It opens.*")
    html = render(article_of(text)).html
    assert 'Go to <em>box full</em>. <em class="see">It opens.</em>' in html
    assert '<em class="see">It stays still.</em>' in html


def test_italics_outside_the_steps_are_plain() -> None:
    assert (
        "<em>Ask first.</em>"
        in render(article_of(STUCK.replace("- No force.", "- *Ask first.*"))).html
    )


def test_links_to_files_go_where_the_page_says() -> None:
    body = "[a](../power/cord-loose.md) [b](b.md#step) [c](https://example.org/x.md) [d](#do-this)"
    html = render(note(body), url_for=lambda slug: f"/read/{slug}?x=1&y=2").html
    assert 'href="/read/cord-loose?x=1&amp;y=2"' in html
    assert 'href="/read/b?x=1&amp;y=2#step"' in html
    assert 'href="https://example.org/x.md"' in html
    assert 'href="#do-this"' in html


def test_no_mark_of_the_program_reaches_the_page() -> None:
    html = render(note("[a]{.if rule=r minutes=3 onclick=x style=y}"), {"r": True}).html
    assert html == "<p>a</p>\n"


def test_the_stop_line_is_left_to_the_page() -> None:
    article = article_of(STUCK)
    assert article.stop not in render(article).html


def test_steps_are_an_ordered_list() -> None:
    steps = tree_of(render(article_of(STUCK)).html).findall(".//ol/li")
    assert len(steps) == 2


@pytest.mark.parametrize("yes", [False, True])
def test_every_shipped_article_is_valid_html_without_script_or_style(*, yes: bool) -> None:
    library, _ = store.load(store.shipped())
    known = {*library.articles, *library.trees}
    assert known
    for article in library.articles.values():
        answers = dict.fromkeys(library.rules.questions, yes)
        root = tree_of(render(article, answers, lambda slug: f"slug:{slug}").html)
        ids = [one.get("id") for one in root.iter() if one.get("id")]
        assert len(ids) == len(set(ids)), article.where
        for one in root.iter():
            assert one.tag not in {"script", "style", "h1"}, article.where
            assert not {name for name in one.attrib if name == "style" or name[:2] == "on"}
            href = one.get("href") or ""
            assert not href.startswith("slug:") or href.removeprefix("slug:") in known
