"""A draft as its author sees it: what the check says of it, line by line, and how it will look."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from flask import render_template

from kb.authoring.checking import Findings, check_draft
from kb.authoring.edits import Edit
from kb.authoring.overlay import Published
from kb.base.clock import local, now
from kb.base.errors import Problem
from kb.library.parse import parse_article
from kb.triage.graph import landing
from kb.triage.parse import parse_tree
from kb.triage.tree import Tree
from kb.web import bodies
from kb.web.county import county
from kb.web.shown import zone


@dataclass(frozen=True)
class Marked:
    """A line of the source with what the check says of it; `number` is 0 for the whole file."""

    number: int
    source: str
    problems: tuple[Problem, ...]


def findings(edit: Edit) -> Findings:
    """What the check says of a draft."""
    draft = Published(edit.slug, edit.where, edit.text, edit.shipped)
    return check_draft(county().library, draft, local(now(), zone()).date())


def marked(text: str, problems: Sequence[Problem]) -> list[Marked]:
    """The problems beside the lines that they are about, from the top."""
    lines = ["", *text.splitlines()]
    at: dict[int, list[Problem]] = {}
    for problem in problems:
        at.setdefault(problem.line if problem.line < len(lines) else 0, []).append(problem)
    return [Marked(number, lines[number], tuple(at[number])) for number in sorted(at)]


def shown(edit: Edit) -> dict[str, object]:
    """What the parts write/problems.html and write/preview.html show.

    `body` is what the body of the page to come is made of; None while there is none yet.
    """
    found = findings(edit)
    own = marked(edit.text, found.own)
    return {"edit": edit, "found": found, "marked": own, "body": _body(edit)}


def parts(edit: Edit) -> dict[str, str]:
    """The same two parts as HTML, for the editor's script."""
    values = shown(edit)
    names = ("problems", "preview")
    return {name: render_template(f"write/{name}.html", **values) for name in names}


def _body(edit: Edit) -> dict[str, object] | None:
    where = (county().library.folder / edit.where).as_posix()
    if edit.is_tree:
        tree, _ = parse_tree(edit.text, where, answers=county().answers)
        return bodies.tree_values(tree) if tree and _lands(tree) else None
    article, _ = parse_article(edit.text, where)
    return bodies.article_values(article) if article else None


def _lands(tree: Tree) -> bool:
    trees = {**county().trees, tree.slug: tree}
    return all(landing(trees, one) for step in tree.steps.values() for one in step.branches)
