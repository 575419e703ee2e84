"""What search knows of an article, a checklist, a note, a translation or a tree."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kb.library.article import Article, Library
from kb.library.text import first_step, sections

_PART = {"What you will hear": "hear", "When": "hear", "Do this": "do", "Steps": "do"}


@dataclass(frozen=True)
class Document:
    """One thing that can be found.

    `slug` is its own, `reports_as` the article that a hit names: for a translation the article it
    translates, for a tree the article that leads to it. `phrases` are callers' own words;
    `hear`, `do` and `rest` are plain text of the body: what one hears, what one does, all else.
    `code` is the short number by which people name it.
    """

    slug: str
    reports_as: str
    title: str
    equipment: str
    phase: tuple[str, ...] = ()
    kind: str = "fault"
    phrases: tuple[str, ...] = ()
    hear: str = ""
    do: str = ""
    rest: str = ""
    stop: str = ""
    code: str = ""
    first_step: str = ""
    hash: str = ""


def texts(document: Document, names: str = "") -> dict[str, str]:
    """Return the text of each field that is searched; `names` are those of its equipment."""
    return {
        "title": document.title,
        "phrases": "\n".join(document.phrases),
        "hear": document.hear,
        "do": document.do,
        "rest": document.rest,
        "names": names,
    }


def from_library(library: Library, answers: Mapping[str, bool]) -> list[Document]:
    """Return every article that can be found; text under a rule that is not "yes" is left out.

    Retired articles are left out, translations report under what they translate. Trees are for
    the triage room to add.
    """
    articles = library.articles.values()
    return [_document(one, answers) for one in articles if one.redirect is None]


def _document(article: Article, answers: Mapping[str, bool]) -> Document:
    parts: dict[str, list[str]] = {"hear": [], "do": [], "rest": []}
    for heading, text in sections(article, answers).items():
        parts[_PART.get(heading, "rest")].append(text)
    return Document(
        slug=article.slug,
        reports_as=article.translates or article.slug,
        title=article.title,
        equipment=article.equipment,
        phase=article.phase,
        kind=article.kind,
        phrases=article.phrases,
        **{name: "\n".join(texts) for name, texts in parts.items()},
        stop=article.stop,
        code=article.code or "",
        first_step=first_step(article, answers),
        hash=article.hash,
    )
