"""A file of Markdown becomes an Article, or as much of one as its faults leave."""

from __future__ import annotations

from pathlib import PurePosixPath

from kb.base.errors import Problem
from kb.base.ids import fingerprint
from kb.library.article import Article
from kb.library.fields import problem
from kb.library.front import ArticleFields, Front, read_front, required
from kb.library.vocabulary import PHASES, RECORDS

_ALWAYS = ("title", "equipment", "phase", "stop", "record", "sources", "reviewed")
_REQUIRED = {
    "fault": (*_ALWAYS, "symptom", "phrases", "effect"),
    "procedure": (*_ALWAYS, "phrases"),
    "checklist": _ALWAYS,
    "note": ("title",),
}
_RETIRED = ("title", "redirect")


def parse_article(text: str, where: str) -> tuple[Article | None, list[Problem]]:
    """Read one article; `where` is its path as shown, and its last part names the slug.

    The article is None where the front matter cannot be read or there is no title; otherwise
    a field at fault is left empty. All faults of the front matter are told (LB101 to LB120).
    """
    front, problems = read_front(text, where, ArticleFields)
    if front is None:
        return None, problems
    problems += _missing(front, where)
    if not front.fields.title:
        return None, problems
    return _article(front, text, where), problems


def _missing(front: Front[ArticleFields], where: str) -> list[Problem]:
    if "redirect" not in front.given:
        return required(front, where, _REQUIRED[front.fields.kind or "fault"])
    faults = [
        problem(where, front.lines, name, "LB120", "a retired article has only title and redirect")
        for name in sorted(front.given.difference(_RETIRED))
    ]
    if front.body.strip():
        message = "a retired article has no text; what is worth keeping belongs to the other one"
        faults.append(problem(where, front.lines, "body", "LB120", message))
    return faults + required(front, where, _RETIRED)


def _article(front: Front[ArticleFields], text: str, where: str) -> Article:
    fields = front.fields
    return Article(
        slug=PurePosixPath(where).stem,
        kind=fields.kind or "fault",
        title=fields.title,
        equipment=fields.equipment,
        phase=tuple(one for one in fields.phase if one in PHASES),
        symptom=fields.symptom or None,
        phrases=fields.phrases,
        stop=fields.stop,
        stop_es=fields.stop_es,
        code=fields.code or None,
        record=tuple(one for one in fields.record if one in RECORDS),
        effect=fields.effect or None,
        local_rule=fields.local_rule,
        tree=fields.tree or None,
        minutes=fields.minutes,
        see_also=fields.see_also,
        sources=fields.sources,
        reviewed=fields.reviewed,
        language=fields.language or "en",
        translates=fields.translates or None,
        redirect=fields.redirect or None,
        body=front.body,
        where=where,
        hash=fingerprint(text),
        lines=front.lines,
    )
