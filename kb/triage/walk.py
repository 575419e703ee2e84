"""Walking a tree: a walk is the list of answers, and replaying them tells where it stands.

Nothing else is kept, so going back is to give fewer answers, and a walk is handed from one
person to another by handing on the list. It is replayed over the very text it began on.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from kb.base.errors import InputError
from kb.triage.graph import Place, graph_of, landing, longest, reachable
from kb.triage.tree import Step, Tree


class Answer(NamedTuple):
    """What was answered: the tree's slug, the step's id, the label of the branch taken."""

    tree: str
    step: str
    label: str


@dataclass(frozen=True)
class Position:
    """Where a walk stands: the answered steps, the present one, and how much may be left.

    `left` counts the answers that the longest way to an end still takes, this one included;
    it is 0 at an end.
    """

    path: tuple[tuple[str, Step, str], ...]
    tree: str
    step: Step
    left: int

    @property
    def ended(self) -> bool:
        """Whether the walk has come to an end."""
        return self.step.kind == "end"


def replay(
    trees: Mapping[str, Tree], start: str, answers: Sequence[tuple[str, str, str]]
) -> Position:
    """Follow the answers from the first step of the tree `start`.

    The trees must be without errors (see `load_trees`). Raises InputError where there is no
    such tree, or an answer is not one of the step that the walk has come to.
    """
    tree, step = _first(trees, start)
    path: list[tuple[str, Step, str]] = []
    for answer in map(Answer._make, answers):
        here = trees[tree].steps[step]
        if (answer.tree, answer.step) != (tree, step):
            raise InputError(
                f"'{answer.label}' answers the step '{answer.step}' of '{answer.tree}', but the "
                f"walk stands at '{step}' of '{tree}'; answer that one"
            )
        path.append((tree, here, answer.label))
        tree, step = _follow(trees, here, answer)
    left = _left(trees, (tree, step))
    return Position(tuple(path), tree, trees[tree].steps[step], left)


def keep_fitting(
    trees: Mapping[str, Tree], start: str, answers: Sequence[tuple[str, str, str]]
) -> tuple[Answer, ...]:
    """Keep, in the order of the walk, the answers that still lie on it.

    To change an answer, add the new one at the end: of two answers to one step the later
    holds, and what was answered on a way no longer taken is left out. An answer the step does
    not offer ends the walk there.
    """
    given = {(answer[0], answer[1]): Answer._make(answer) for answer in answers}
    tree, step = _first(trees, start)
    kept: list[Answer] = []
    while (answer := given.pop((tree, step), None)) is not None:
        here = trees[tree].steps[step]
        if answer.label not in {branch.label for branch in here.branches}:
            break
        kept.append(answer)
        tree, step = _follow(trees, here, answer)
    return tuple(kept)


def _first(trees: Mapping[str, Tree], start: str) -> Place:
    if start not in trees:
        raise InputError(f"there is no tree '{start}' to walk; choose one from the library")
    return start, trees[start].first


def _follow(trees: Mapping[str, Tree], here: Step, answer: Answer) -> Place:
    branch = next((branch for branch in here.branches if branch.label == answer.label), None)
    if branch is None:
        offered = ", ".join(f"'{branch.label}'" for branch in here.branches) or "none: it is an end"
        raise InputError(
            f"the step '{here.id}' has no answer '{answer.label}'; its answers are {offered}"
        )
    place = landing(trees, branch)
    if place is None:
        raise InputError(
            f"'{answer.label}' leads on to '{branch.target_tree}', which is not at hand; "
            "go on with the hotline"
        )
    return place


def _left(trees: Mapping[str, Tree], place: Place) -> int:
    graph = graph_of(trees)
    ahead = {one: graph[one] for one in reachable(graph, [place])}
    return len(longest(ahead)[place]) - 1
