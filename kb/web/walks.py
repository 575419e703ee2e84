"""A walk through a tree for one incident: where it stands, and taking an answer.

Every answer is an entry of its own, and the position is found by replaying them. Changing an
earlier answer takes back what followed it on the page; the record keeps all of them. A walk
begun on one text of a tree is finished on that text, which is kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from flask import request

from kb.base.errors import InputError, NotFound
from kb.incidents.incident import Incident
from kb.triage.parse import parse_tree
from kb.triage.tree import Step, Tree
from kb.triage.walk import Position, keep_fitting, replay
from kb.web.county import county
from kb.web.entries import Told, enter
from kb.web.shown import own


@dataclass(frozen=True)
class Walk:
    """What a page shows of a walk: the step asked now, and what was answered before it."""

    tree: Tree
    position: Position
    step: Step
    step_tree: str
    # The answer that this step has so far, where it is shown again to change it.
    given: str


def walk(incident: Incident, slug: str, step: str | None = None) -> Walk:
    """The walk of an incident through a tree: at `step` ("tree.step") of its way, else at its end.

    Raises NotFound for a tree that does not exist.
    """
    trees = _trees(incident, slug)
    position = replay(trees, slug, keep_fitting(trees, slug, _answers(incident, slug)))
    for tree, past, label in position.path:
        if step == f"{tree}.{past.id}":
            return Walk(trees[slug], position, past, tree, label)
    return Walk(trees[slug], position, position.step, position.tree, "")


def take_answer(incident: Incident, slug: str) -> None:
    """Store the answer of the request's form. Raises InputError where it fits no step."""
    trees = _trees(incident, slug)
    tree_slug, _, step_id = request.form.get("step", "").rpartition(".")
    tree = trees.get(tree_slug)
    step = tree.steps.get(step_id) if tree else None
    if tree is None or step is None:
        raise InputError("This question is no longer part of the tree. Load the page again.")
    label = request.form.get("answer", "")
    if label not in {branch.label for branch in step.branches}:
        raise InputError(f"Pick one of the answers to “{own(step.heading)}”.")
    county().record.keep_text(tree.hash, tree.text)
    body: dict[str, object] = {
        "tree": tree.slug,
        "hash": tree.hash,
        "step": step.id,
        "answer": label,
        "walk": slug,
    }
    enter([Told("tree.answered", body)], election=incident.election, incident=incident.id)


def text_of(slug: str, version: str) -> Tree | None:
    """A tree as it stood when it was walked; None where its text is not at hand."""
    current = county().trees.get(slug)
    if current is not None and current.hash == version:
        return current
    text = county().record.text(version)
    return _parsed(text, slug, tuple(sorted(county().answers.items()))) if text else None


@lru_cache(maxsize=64)
def _parsed(text: str, slug: str, answers: tuple[tuple[str, bool], ...]) -> Tree | None:
    return parse_tree(text, f"{slug}.md", answers=dict(answers))[0]


def _trees(incident: Incident, slug: str) -> Mapping[str, Tree]:
    """The trees as they stand, but those that this walk has been in as they stood then."""
    trees = dict(county().trees)
    for begun in incident.walks:
        if begun.id == slug:
            for tree, version in {given.tree: given.hash for given in begun.history}.items():
                if (kept := text_of(tree, version)) is not None:
                    trees[tree] = kept
    if slug not in trees:
        raise NotFound(f"There is no tree '{slug}'. The library lists those there are.")
    return trees


def _answers(incident: Incident, slug: str) -> tuple[tuple[str, str, str], ...]:
    return next((begun.answers for begun in incident.walks if begun.id == slug), ())
