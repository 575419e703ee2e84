"""What the library holds: articles, the texts of trees, and the shelf they stand on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from kb.base.errors import NotFound
from kb.library.rules import Rules
from kb.library.words import Words

# Sections in their order; False marks one that may be missing.
_FAULT = {
    "What you will hear": True,
    "Cautions": True,
    "Do this": True,
    "If that did not help": False,
    "Stop and call": True,
    "Write down": True,
}
SECTIONS: Mapping[str, Mapping[str, bool]] = {
    "fault": _FAULT,
    "procedure": {"When": True, **dict(list(_FAULT.items())[1:])},
    "checklist": {
        "Before you start": True,
        "Cautions": True,
        "Steps": True,
        "You are done when": True,
        "If it goes wrong": True,
    },
    "note": {},
}
STEP_SECTIONS = ("Do this", "Steps")


@dataclass(frozen=True)
class Article:
    """One article; `body` is its Markdown, `hash` the SHA-256 (hex) of the whole file.

    A field that its file lacks or gets wrong is empty here; the linter has told of it. `code`
    is the short number by which people name the article on the phone, `stop_es` the stop line
    in Spanish.
    `lines` gives the line of each front matter field ("title", "phrases.3") and of "body".
    """

    slug: str
    kind: str
    title: str
    equipment: str
    phase: tuple[str, ...]
    symptom: str | None
    phrases: tuple[str, ...]
    stop: str
    stop_es: str
    code: str | None
    record: tuple[str, ...]
    effect: str | None
    local_rule: tuple[str, ...]
    tree: str | None
    minutes: float | None
    see_also: tuple[str, ...]
    sources: tuple[str, ...]
    reviewed: date | None
    language: str
    translates: str | None
    redirect: str | None
    body: str
    where: str
    hash: str
    lines: Mapping[str, int] = field(default_factory=dict, compare=False, repr=False)

    def line(self, name: str) -> int:
        """Return the line of a front matter field, or the first line where it has none."""
        return self.lines.get(name, 1)


@dataclass(frozen=True)
class TreeSource:
    """The text of a tree's file, for the triage room to read."""

    slug: str
    text: str
    where: str


@dataclass(frozen=True)
class Library:
    """All of one folder: articles and trees by slug, words, local rules."""

    articles: Mapping[str, Article]
    trees: Mapping[str, TreeSource]
    words: Words
    rules: Rules
    folder: Path

    def article(self, slug: str) -> Article:
        """Return the article, following the redirects of retired ones; raises NotFound."""
        seen: set[str] = set()
        while slug not in seen and slug in self.articles:
            seen.add(slug)
            found = self.articles[slug]
            if found.redirect is None:
                return found
            slug = found.redirect
        raise NotFound(f"there is no article '{slug}' in the library; look for it by its words")
