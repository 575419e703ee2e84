"""Graded queries: what was said, and which articles are right for it.

A line of the file is `query<TAB>slug<TAB>grade`, a query with several slugs on several lines.
The grade is a whole number, higher is better; `-` in place of the slug or the grade says that no
article fits the query.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from kb.base.errors import Problem, Problems

CODE = "QUERIES"
_HEADER = ["query", "slug", "grade"]
_NONE = "-"


@dataclass(frozen=True)
class Query:
    """One query and the grade of each slug that was judged; no grade at all: nothing fits."""

    text: str
    grades: Mapping[str, int]

    @property
    def best(self) -> frozenset[str]:
        """The slugs of the highest grade."""
        highest = max(self.grades.values(), default=0)
        return frozenset(slug for slug, grade in self.grades.items() if grade == highest > 0)


def parse_queries(text: str, where: str) -> list[Query]:
    """Read the file's text, in the order of first lines. Raises Problems with every fault."""
    grades: dict[str, dict[str, int]] = {}
    nothing: set[str] = set()
    problems: list[Problem] = []
    for number, line in enumerate(text.splitlines(), start=1):
        cells = [cell.strip() for cell in line.split("\t")]
        if not line.strip() or (number == 1 and cells == _HEADER):
            continue
        said, slug, grade = [*cells, "", ""][:3]
        fault = _fault(cells, grades.get(said, {}), said in nothing)
        if fault:
            problems.append(Problem(where, number, CODE, fault))
        elif _NONE in (slug, grade):
            grades[said] = {}
            nothing.add(said)
        else:
            grades.setdefault(said, {})[slug] = int(grade)
    if not grades and not problems:
        problems.append(Problem(where, 0, CODE, "holds no query; write query, slug, grade"))
    if problems:
        raise Problems(problems)
    return [Query(said, judged) for said, judged in grades.items()]


def _fault(cells: list[str], judged: Mapping[str, int], nothing: bool) -> str:
    said, slug, grade = [*cells, "", ""][:3]
    if len(cells) > len(_HEADER) or not said or not (slug or grade):
        return "is not query, slug and grade between tabs"
    none = _NONE in (slug, grade)
    if nothing or (none and judged):
        return f"the query '{said}' is graded '-' and has a slug as well; keep one of them"
    if none:
        return ""
    if slug in judged:
        return f"the slug '{slug}' is graded twice for this query; keep one line"
    if not (grade.isascii() and grade.isdigit()):
        return f"the grade '{grade}' is neither a whole number from 0 up nor '-'"
    return ""


def only_known(queries: Iterable[Query], slugs: Collection[str]) -> tuple[list[Query], int]:
    """Keep the queries whose article to open exists, with the judgements of slugs that exist.

    Return them with the number of queries left out. A query that nothing fits is kept.
    """
    every = list(queries)
    kept = [
        Query(query.text, {slug: grade for slug, grade in query.grades.items() if slug in slugs})
        for query in every
        if not query.best or not query.best.isdisjoint(slugs)
    ]
    return kept, len(every) - len(kept)
