from kb.library.article import Library
from kb.library.parse import parse_article
from kb.library.rules import Rules
from kb.library.words import Words
from kb.search.documents import from_library

ARTICLE = """---
title: Ballot stuck
equipment: scanner
phase: [voting]
symptom: jam
phrases: [its jammed, wont go in]
stop: Do not pull hard.
record: [base]
effect: device
sources: [common practice]
reviewed: 2026-11-01
local-rule: [pull-back]
---

Use this when a ballot is stuck.

## What you will hear

"It grabbed it and quit."

## Cautions

- No force.

## Do this

1. Note the counter. *It stands still.*
2. [Pull it back.]{.if rule=pull-back} Wait.

## Stop and call

- It tears.

## Write down

Base set.
"""


def library(**files):
    found = {}
    for slug, text in files.items():
        article, problems = parse_article(text, f"scanner/{slug}.md")
        assert [str(one) for one in problems] == []
        found[slug] = article
    return Library(found, {}, Words(), Rules(), None)


def test_a_body_is_split_into_what_one_hears_and_does_and_the_rest():
    (one,) = from_library(library(stuck=ARTICLE), {})
    assert one.phrases == ("its jammed", "wont go in")
    assert "grabbed" in one.hear
    assert "Note the counter" in one.do
    assert "It tears" in one.rest
    assert "ballot is stuck" in one.rest
    assert (one.stop, one.first_step) == ("Do not pull hard.", "Note the counter.")


def test_text_under_a_local_rule_is_found_only_where_the_county_says_yes():
    assert "Pull it back" not in from_library(library(stuck=ARTICLE), {})[0].do
    assert "Pull it back" in from_library(library(stuck=ARTICLE), {"pull-back": True})[0].do


def test_a_retired_article_is_left_out_and_a_translation_reports_as_its_article():
    spanish = ARTICLE.replace("reviewed:", "language: es\ntranslates: stuck\nreviewed:")
    retired = "---\ntitle: Old one\nredirect: stuck\n---\n"
    found = from_library(library(stuck=ARTICLE, atascada=spanish, old=retired), {})
    assert {one.slug: one.reports_as for one in found} == {"stuck": "stuck", "atascada": "stuck"}
