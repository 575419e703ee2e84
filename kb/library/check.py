"""The linter of articles: what a file says of itself, and what it says of other files.

Faults that show in reading a file (LB100 to LB107, LB115, LB120, LB301, LB302) come from
`store.load`; everything else about articles comes from here, everything about trees from
`kb.triage.check`.
"""

from __future__ import annotations

import re
import string
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Protocol

from kb.base.errors import Problem
from kb.library import check_body
from kb.library.article import Article, Library
from kb.library.codes import NOTICES, RULES, WARNINGS
from kb.library.fields import problem, unknown, warning

__all__ = [
    "NOTICES",
    "RULES",
    "WARNINGS",
    "check",
    "phrases_twice",
    "review_date",
    "stop_lines",
    "wrong_slug",
]

PHRASES = range(15, 31)
# Months after which a text is due for another review, and overdue.
DUE, OVERDUE = 18, 24
_PHRASED = ("fault", "procedure")
_SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_LANGUAGE = re.compile(r"[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*")
# A sentence ends, and another begins: "a.m. nobody" is no such place.
_NEXT_SENTENCE = re.compile(r"[.!?]['\"”)]?\s+['\"“(¿¡]?[A-ZÁÉÍÓÚÑ]")


def check(library: Library, today: date) -> list[Problem]:
    """Check all articles of a library; `today` is what a review's date is held against."""
    problems = list(_phrases_of_others(library.articles))
    for article in library.articles.values():
        problems += _front(article, library, today)
        if article.redirect is None:
            problems += check_body.check(article, library)
    return sorted(problems)


def _front(article: Article, library: Library, today: date) -> Iterator[Problem]:
    where, lines = article.where, article.lines
    yield from wrong_slug(article.slug, where)
    yield from _equipment(article, library)
    yield from _others(article, library)
    yield from _language(article, library)
    yield from phrases_twice(article.phrases, where, lines)
    if article.redirect is not None:
        return
    if article.kind in _PHRASED and article.phrases and len(article.phrases) not in PHRASES:
        message = f"there are {len(article.phrases)}; write 15 to 30, in many voices"
        yield problem(where, lines, "phrases", "LB109", message)
    yield from stop_lines(article, where, lines)
    yield from review_date(article.reviewed, today, where, lines)


def wrong_slug(slug: str, where: str) -> Iterator[Problem]:
    """LB114, for an article or a tree."""
    if not _SLUG.fullmatch(slug):
        message = f"rename the file: '{slug}' is not small letters and digits joined by hyphens"
        yield Problem(where, 1, "LB114", message, field="slug")


class HasCode(Protocol):
    """An article or a tree."""

    @property
    def code(self) -> str | None:
        """The short number by which it is named on the phone."""

    @property
    def where(self) -> str:
        """Its file."""

    @property
    def lines(self) -> Mapping[str, int]:
        """The line of each field."""


class HasStopLine(Protocol):
    """An article or a tree."""

    @property
    def stop(self) -> str:
        """The stop line."""

    @property
    def stop_es(self) -> str:
        """The same in Spanish."""


def stop_lines(text: HasStopLine, where: str, lines: Mapping[str, int]) -> Iterator[Problem]:
    """LB112, for an article or a tree."""
    for name, stop in (("stop", text.stop), ("stop-es", text.stop_es)):
        if stop and (_NEXT_SENTENCE.search(stop) or not stop.endswith((".", "!"))):
            message = "write one sentence that ends with a full stop"
            yield problem(where, lines, name, "LB112", message)


def review_date(
    reviewed: date | None, today: date, where: str, lines: Mapping[str, int]
) -> Iterator[Problem]:
    """LB113, LB123 and LB124, for an article or a tree."""
    if reviewed is None:
        return
    months = 12 * (today.year - reviewed.year) + today.month - reviewed.month
    months -= today.day < reviewed.day
    age = f"last reviewed {reviewed}; read it again as its users do, and write the new day"
    if reviewed > today:
        message = f"{reviewed} is in the future; write the day of the last review"
        yield problem(where, lines, "reviewed", "LB113", message)
    elif months >= OVERDUE:
        yield warning(where, lines, "reviewed", "LB124", age)
    elif months >= DUE:
        yield warning(where, lines, "reviewed", "LB123", age)


def codes(texts: Iterable[HasCode]) -> Iterator[Problem]:
    """LB122, over all articles and trees of a library."""
    first: dict[str, HasCode] = {}
    for text in texts:
        other = first.setdefault(text.code, text) if text.code else text
        if other is not text:
            message = f"'{text.code}' is the code of {other.where} too; take one that is free"
            yield problem(text.where, text.lines, "code", "LB122", message)


def phrases_twice(
    phrases: Sequence[str], where: str, lines: Mapping[str, int]
) -> Iterator[Problem]:
    """LB110, for an article or a tree."""
    first: dict[str, int] = {}
    for index, phrase in enumerate(phrases):
        before = first.setdefault(_key(phrase), index)
        if before != index:
            message = f"'{phrase}' stands here already, as phrase {before + 1}; take one away"
            yield problem(where, lines, f"phrases.{index}", "LB110", message)


def _phrases_of_others(articles: Mapping[str, Article]) -> Iterator[Problem]:
    first: dict[str, Article] = {}
    for article in articles.values():
        for index, phrase in enumerate(article.phrases):
            other = first.setdefault(_key(phrase), article)
            # A translation leads to its original, so the two may share what callers say.
            if (other.translates or other.slug) != (article.translates or article.slug):
                message = f"'{phrase}' stands in {other.where} too; keep it where it fits best"
                yield problem(article.where, article.lines, f"phrases.{index}", "LB111", message)


def _key(phrase: str) -> str:
    """Reduce a phrase to what is left of it without capitals, signs and spare spaces."""
    bare = phrase.casefold().replace("’", "'").translate(str.maketrans("", "", string.punctuation))
    return " ".join(bare.split())


def _equipment(article: Article, library: Library) -> Iterator[Problem]:
    if not article.equipment:
        return
    known = [one.id for one in library.words.equipment]
    if known and article.equipment not in known:
        message = unknown(article.equipment, known)
        yield problem(article.where, article.lines, "equipment", "LB108", message)
    folder = Path(article.where).parent
    if folder != library.folder and folder.name != article.equipment:
        message = f"the file stands in {folder.name}/; move it to {article.equipment}/ or mend this"
        yield problem(article.where, article.lines, "equipment", "LB121", message)


def _others(article: Article, library: Library) -> Iterator[Problem]:
    where, lines = article.where, article.lines
    known = [*library.articles, *library.trees]
    for index, slug in enumerate(article.see_also):
        if slug == article.slug:
            message = "an article does not name itself"
            yield problem(where, lines, f"see-also.{index}", "LB116", message)
        elif slug not in known:
            yield problem(where, lines, f"see-also.{index}", "LB116", unknown(slug, known))
    if article.tree and article.tree not in library.trees:
        message = unknown(article.tree, list(library.trees))
        yield problem(where, lines, "tree", "LB117", message)
    for name, other in (("redirect", article.redirect), ("translates", article.translates)):
        if other is None:
            continue
        if other not in library.articles or other == article.slug:
            others = [one for one in library.articles if one != article.slug]
            yield problem(where, lines, name, "LB118", unknown(other, others))
        elif library.articles[other].redirect is not None:
            message = f"'{other}' is retired; name {library.articles[other].redirect}"
            yield problem(where, lines, name, "LB118", message)


def _language(article: Article, library: Library) -> Iterator[Problem]:
    where, lines = article.where, article.lines
    if not _LANGUAGE.fullmatch(article.language):
        message = f"'{article.language}' is not a language tag such as es or es-MX"
        yield problem(where, lines, "language", "LB119", message)
    if article.translates and article.code:
        message = "a translation goes by the code of its original; take this away"
        yield problem(where, lines, "code", "LB122", message)
    original = library.articles.get(article.translates or "")
    if original is not None and original.language == article.language:
        message = f"the original is in '{original.language}' too; write the translation's language"
        yield problem(where, lines, "language", "LB119", message)
