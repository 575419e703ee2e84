"""A draft held against the same rules as `latchbook check`, within the whole library."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from kb.authoring.overlay import Published, apply
from kb.base.errors import Problem
from kb.library.article import Library
from kb.triage.check import check_all


@dataclass(frozen=True)
class Findings:
    """What is wrong in the draft itself, and what it makes wrong in other files."""

    own: tuple[Problem, ...]
    elsewhere: tuple[Problem, ...] = ()

    @property
    def errors(self) -> list[Problem]:
        """Those that keep the draft from being handed in."""
        return [one for one in (*self.own, *self.elsewhere) if not one.warning]


def check_draft(library: Library, draft: Published, today: date) -> Findings:
    """Check a draft with every rule, over the library that is in force.

    Takes about as long as checking the whole library.
    """
    found = _faults(library, draft, today)
    where = _where(library, draft)
    others = {one for one in found if one.where != where}
    if others:
        others -= set(check_all(library, today))
    own = (one for one in found if one.where == where)
    return Findings(_shown(own, library), _shown(others, library))


def check_alone(library: Library, draft: Published, today: date) -> Findings:
    """The draft's own faults, quickly: for every pause of the person who types.

    The texts of articles that the draft has nothing to do with are left out, so a rule that
    looks at them tells only by `check_draft`.
    """
    near = {
        slug: article
        if slug in draft.text or article.translates == draft.slug
        else replace(article, body="")
        for slug, article in library.articles.items()
    }
    where = _where(library, draft)
    found = _faults(replace(library, articles=near), draft, today)
    return Findings(_shown((one for one in found if one.where == where), library))


def _faults(library: Library, draft: Published, today: date) -> set[Problem]:
    changed, problems = apply(library, {draft.slug: draft})
    return {*problems, *check_all(changed, today)}


def _where(library: Library, draft: Published) -> str:
    return (library.folder / draft.where).as_posix()


def _shown(problems: Iterable[Problem], library: Library) -> tuple[Problem, ...]:
    """With paths within the library: where the server keeps it is no author's business."""
    folder = f"{library.folder.as_posix()}/"
    return tuple(
        sorted(
            replace(
                one, where=one.where.removeprefix(folder), message=one.message.replace(folder, "")
            )
            for one in problems
        )
    )
