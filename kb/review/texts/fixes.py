"""How often an article or the end of a tree was followed by a mended fault.

A fault counts as mended by its outcome, so cases that are still open count in no share. Both
the article and the county's staff mend faults: a low share says "look here", never "bad text".
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from kb.authoring.learning import Pick
from kb.incidents.incident import Incident
from kb.review.measures.shares import Share, share

FIXED = frozenset({"fixed-by-phone", "fixed-on-site", "contingency-then-fixed"})


@dataclass(frozen=True)
class ArticleFixes:
    """One article: cases that opened it; the share of those that ended which ended mended.

    `last`: in how many of the mended ones it was the article opened last.
    """

    slug: str
    opened: int
    fixed: Share | None
    last: int


def counts(case: Incident) -> bool:
    """Whether a case enters any count: not when it is the same case as another."""
    return case.outcome != "duplicate" and case.duplicate_of is None


def mended(case: Incident) -> bool:
    """Whether a case ended with the fault mended."""
    return case.outcome in FIXED


def fixed_share(cases: Iterable[Incident]) -> Share | None:
    """The share of mended ones among the cases that have an outcome; None where none has."""
    ended = [case for case in cases if case.outcome]
    return share(sum(map(mended, ended)), len(ended))


def of_articles(cases: Iterable[Incident]) -> dict[str, ArticleFixes]:
    """The figures of every article that was opened, by slug."""
    opened: dict[str, list[Incident]] = {}
    for case in filter(counts, cases):
        for slug in dict.fromkeys(picked.slug for picked in case.articles):
            opened.setdefault(slug, []).append(case)
    return {
        slug: ArticleFixes(
            slug,
            len(of),
            fixed_share(of),
            sum(mended(case) and case.article == slug for case in of),
        )
        for slug, of in sorted(opened.items())
    }


def picks(cases: Iterable[Incident]) -> list[Pick]:
    """Every article that was opened for a caller's words, for the authors' lists."""
    return [
        Pick(
            words=entry.text("words"),
            slug=entry.text("article"),
            at=entry.at,
            fixed=mended(case) and case.article == entry.text("article"),
            case=case.id,
        )
        for case in filter(counts, cases)
        for entry in case.timeline
        if entry.kind == "search.picked"
        and not entry.struck
        and entry.text("words")
        and "words" not in entry.withheld
    ]
