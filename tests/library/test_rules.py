"""Text under a local rule shows only where the answer is yes; silence is the strictest choice."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from kb.library import store
from kb.library.article import Article
from kb.library.parse import parse_article
from kb.library.render import render
from kb.library.text import first_step, sections

FIXTURES = Path(__file__).parent.parent / "fixtures"


def article_of(body: str) -> Article:
    article, _ = parse_article(f"---\ntitle: A\nkind: note\n---\n{body}", "a.md")
    assert article is not None
    return article


def shown(body: str, **answers: bool) -> str:
    given = {name.replace("_", "-"): answer for name, answer in answers.items()}
    return render(article_of(body), given).html.replace("\n", "")


@pytest.mark.parametrize("answers", [{}, {"r": False}, {"other": True}])
def test_without_a_yes_the_text_is_left_out(answers: dict[str, bool]) -> None:
    assert shown("One. [Two *three*.]{.if rule=r} Four.", **answers) == "<p>One.  Four.</p>"


def test_with_a_yes_the_text_stands_without_a_mark() -> None:
    html = shown("One. [Two *three*.]{.if rule=r}", r=True)
    assert html == "<p>One. Two <em>three</em>.</p>"


def test_an_emptied_step_goes_and_the_numbers_stay_right() -> None:
    body = "1. a\n2. [b]{.if rule=r}\n3. [c]{.if rule=q}.\n4. d\n"
    assert shown(body) == "<ol><li>a</li><li>d</li></ol>"
    assert shown(body, q=True) == "<ol><li>a</li><li>c.</li><li>d</li></ol>"
    assert shown(body, q=True, r=True).count("<li>") == 4


def test_emptied_paragraphs_and_lists_go_too() -> None:
    assert shown("a\n\n[b]{.if rule=r}\n\n- [c]{.if rule=r}\n- [d]{.if rule=r}\n") == "<p>a</p>"
    assert shown("- a\n  - [b]{.if rule=r}\n") == "<ul><li>a</li></ul>"


def test_text_over_several_lines_goes_whole() -> None:
    assert shown("a [b\nc\nd]{.if rule=r} e") == "<p>a  e</p>"


def test_a_rule_inside_a_rule_needs_both() -> None:
    body = "a [b [c]{.if rule=q} d]{.if rule=r}"
    assert shown(body, q=True) == "<p>a </p>"
    assert shown(body, r=True) == "<p>a b  d</p>"
    assert shown(body, r=True, q=True) == "<p>a b c d</p>"


@pytest.mark.parametrize(
    "body", ["{.if rule=r}\nb\n", "{.if rule=r}\n- b\n\n", "{.if rule=r}\n> b\n"]
)
def test_a_whole_block_may_stand_under_a_rule(body: str) -> None:
    assert shown(f"a\n\n{body}") == "<p>a</p>"
    assert "b" in shown(f"a\n\n{body}", r=True)
    assert "class" not in shown(f"a\n\n{body}", r=True)


def test_other_marked_things_are_held_back_as_well() -> None:
    assert shown("a [b](c.md){.if rule=r} `d`{.if rule=r}") == "<p>a  </p>"


def test_a_rule_that_is_not_named_never_shows() -> None:
    assert shown("a [b]{.if}", r=True) == "<p>a </p>"


def test_the_rules_nobody_has_answered_are_listed_in_their_order() -> None:
    body = "[a]{.if rule=q} [b [c]{.if rule=s}]{.if rule=r} [d]{.if rule=q}"
    assert render(article_of(body)).unset == ("q", "r", "s")
    assert render(article_of(body), {"q": False, "s": True}).unset == ("r",)


def test_the_first_step_is_the_first_that_holds() -> None:
    body = "## Do this\n\n1. [Lift it. *It is up.*]{.if rule=r}\n2. Call. *They answer.* Wait.\n"
    assert first_step(article_of(body)) == "Call. Wait."
    assert first_step(article_of(body), {"r": True}) == "Lift it."


def test_search_text_has_nothing_that_does_not_hold() -> None:
    body = "lead\n\n## Cautions\n\n- a [b]{.if rule=r}\n- [c]{.if rule=r}\n"
    assert sections(article_of(body)) == {"": "lead", "Cautions": "a"}
    assert sections(article_of(body), {"r": True}) == {"": "lead", "Cautions": "a b\nc"}


def test_no_text_under_a_rule_leaks_out_of_the_shipped_articles() -> None:
    library, _ = store.load(store.shipped())
    seen = 0
    for article in library.articles.values():
        plain = replace(article, body=article.body.replace("*", ""))
        text = "\n".join(sections(plain).values())
        # Spans hold no brackets, so cutting the source at them is a second way to find them.
        for piece in plain.body.split("]{.if rule=")[:-1]:
            held = " ".join(piece.rsplit("[", 1)[1].split())
            seen += 1
            assert held not in " ".join(text.split()), article.where
            assert held not in render(plain).html, article.where
            assert held not in first_step(plain), article.where
    assert seen > 10
