"""The county's own words stand where the library's stood, and nothing else changes."""

from __future__ import annotations

from html import unescape

import pytest
from html5lib import parseFragment

from kb.library import store
from kb.library.ownwords import TERMS, OwnWord, OwnWords
from kb.library.render import render
from kb.library.words import Words
from kb.search.documents import Document
from kb.search.index import Index

OWN = OwnWords(
    {
        "emergency compartment": OwnWord("auxiliary bin", "auxiliary bins"),
        "rover": OwnWord("field technician", "field technicians"),
        "zero report": OwnWord("opening tape", "opening tapes"),
        "chief judge": OwnWord("Inspector", "Inspectors"),
    }
)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("the rover, and ROVERS", "the field technician, and Field technicians"),
        ("A rover brings it.", "A field technician brings it."),
        ("Sign the zero\nreport.", "Sign the opening tape."),
        ("Zero reports differ", "Opening tapes differ"),
        ("a zero report, an emergency compartment", "an opening tape, an auxiliary bin"),
        ("A Chief Judge's word", "An Inspector's word"),
        ("zero-report-not-zero, rover-x, rovering, zero; report", None),
        ("emergency exit, side compartment", None),
    ],
)
def test_a_term_gives_way_in_one_and_many_with_its_article_and_capital(
    text: str, shown: str | None
) -> None:
    assert OWN.text(text) == (shown or text)


@pytest.mark.parametrize(
    ("word", "article"),
    [("unit", "a"), ("unofficial tape", "an"), ("one-way slot", "a"), ("hall runner", "a")],
)
def test_the_article_goes_by_the_sound(word: str, article: str) -> None:
    own = OwnWords({"rover": OwnWord(word, f"{word}s")})
    assert own.text("a rover") == f"{article} {word}"


def test_a_word_that_holds_the_term_is_put_in_once() -> None:
    own = OwnWords({"rover": OwnWord("county rover", "county rovers")})
    assert own.text("a rover and rovers") == "a county rover and county rovers"


def test_html_keeps_addresses_code_and_its_elements_in_balance() -> None:
    html = (
        '<p title="rover">An <a href="/rover">emergency <em>compartment</em></a>, <code>a rover'
        "</code></p>\n<p>a zero</p>\n<p>report &amp; <strong>rovers</strong></p>"
    )
    assert OWN.html(html) == (
        '<p title="rover">An <a href="/rover">auxiliary bin<em></em></a>, <code>a rover'
        "</code></p>\n<p>a zero</p>\n<p>report &amp; <strong>field technicians</strong></p>"
    )


def test_a_word_is_never_read_as_html() -> None:
    own = OwnWords({"rover": OwnWord("R&D <b>", "x")})
    assert own.html("<p>the rover</p>") == "<p>the R&amp;D &lt;b&gt;</p>"


def test_without_words_nothing_changes() -> None:
    assert OwnWords().html("<p>a rover</p>") == "<p>a rover</p>"
    assert OwnWords().text("zero report") == "zero report"
    words = Words()
    assert OwnWords().widen(words) is words


def test_no_term_is_left_in_any_shipped_article_and_each_stays_well_formed() -> None:
    library, _ = store.load(store.shipped())
    seen = 0
    for article in library.articles.values():
        before = render(article, dict.fromkeys(library.rules.questions, True)).html
        after = OWN.html(before)
        seen += before != after
        # html5lib mends what is out of balance, so a sound text has as many tags as it had.
        trees = [parseFragment(html, namespaceHTMLElements=False) for html in (before, after)]
        assert [one.tag for one in trees[0].iter()] == [one.tag for one in trees[1].iter()]
        text = " ".join("".join(trees[1].itertext()).lower().split())
        for term in TERMS:
            assert f" {term} " not in f" {text} ", article.slug
        assert unescape(before).count("href=") == unescape(after).count("href=")
    assert seen > 20


def test_search_takes_the_countys_word_for_the_librarys() -> None:
    documents = [
        Document("late", "late", "The rover has not come", "other"),
        Document("door", "door", "The door will not open", "site"),
    ]
    index = Index(documents, OWN.widen(Words()))
    for words in ("field technician missing", "field technicians missing", "rover missing"):
        assert [hit.slug for hit in index.search(words).hits] == ["late"], words
    assert not Index(documents, Words()).search("field technician missing").hits
