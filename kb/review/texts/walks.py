"""What the record says about a tree: where its walks end, stop and turn back, and what followed.

These figures are the author's work list. Each walk is replayed over the very text that it was
walked on, so that a changed tree changes no old figure.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import median

from kb.base.errors import InputError
from kb.incidents.incident import Incident, Walk
from kb.review.measures.rates import FEW
from kb.review.measures.shares import Share, share
from kb.review.texts.fixes import counts, fixed_share
from kb.triage.tree import Step, Tree
from kb.triage.walk import keep_fitting, replay

# The trees of a library as they stood for one walk.
TreesOf = Callable[[Walk], Mapping[str, Tree]]
StepName = tuple[str, str]

SECOND_CALL = timedelta(minutes=30)
UNSURE = "I can't tell"
# From this share of "I can't tell" on, a question asks for what its readers cannot see.
OFTEN = 0.25


@dataclass(frozen=True)
class Walked:
    """One walk: where it stands, how many questions and minutes it took, and its case.

    `changed`: the steps whose answer was taken back and given anew, once for each time.
    """

    case: Incident
    tree: str
    step: Step
    questions: int
    begun: datetime
    last: datetime
    given: tuple[tuple[StepName, str], ...]
    changed: tuple[StepName, ...]
    second_call: bool = False

    @property
    def ended(self) -> bool:
        """Whether it came to an end of the tree."""
        return self.step.kind == "end"

    @property
    def left(self) -> bool:
        """Whether it was left before an end: the case is over, the walk is not."""
        return not self.ended and self.case.status == "closed"


@dataclass(frozen=True)
class EndFigures:
    """One end: walks that came to it, how many of their cases ended mended, second calls."""

    tree: str
    step: Step
    walks: int
    fixed: Share | None
    again: int


@dataclass(frozen=True)
class StepFigures:
    """One question or fix: answers given, how many were "I can't tell", left here, changed."""

    tree: str
    step: str
    answers: int
    unsure: Share | None
    left: int
    changed: int

    @property
    def too_often_unsure(self) -> bool:
        """Whether its readers cannot tell too often, and there are enough to say so."""
        found = self.unsure
        return found is not None and not found.too_few and found.value >= OFTEN


@dataclass(frozen=True)
class TreeFigures:
    """One tree. `questions` and `minutes` are medians of the walks that came to an end."""

    slug: str
    walks: int
    ended: int
    left: int
    again: int
    questions: float | None
    minutes: float | None
    ends: tuple[EndFigures, ...]
    steps: tuple[StepFigures, ...]

    @property
    def too_few(self) -> bool:
        """Whether there are too few walks to compare this tree with another."""
        return self.walks < FEW


def of_trees(cases: Sequence[Incident], trees_of: TreesOf) -> dict[str, TreeFigures]:
    """The figures of every tree that was walked, by the slug of the tree where walks began."""
    found: defaultdict[str, list[Walked]] = defaultdict(list)
    calls = _calls(cases)
    for case in filter(counts, cases):
        for walk in case.walks:
            try:
                walked = _walked(case, walk, trees_of(walk), calls)
            except InputError:
                # It began in, or led on to, a tree that is gone and of which no text was kept.
                continue
            found[walk.id].append(walked)
    return {slug: _figures(slug, walks) for slug, walks in sorted(found.items())}


Calls = Mapping[tuple[str, str], Sequence[tuple[datetime, str]]]


def _calls(cases: Iterable[Incident]) -> Calls:
    """When which case was called in, by place and equipment; the same case told twice as well."""
    found: defaultdict[tuple[str, str], list[tuple[datetime, str]]] = defaultdict(list)
    for case in cases:
        called = case.answered or case.reported or case.first
        if case.place and case.equipment and called:
            found[case.place, case.equipment].append((called, case.id))
    return found


def _walked(case: Incident, walk: Walk, trees: Mapping[str, Tree], calls: Calls) -> Walked:
    position = replay(trees, walk.id, keep_fitting(trees, walk.id, walk.answers))
    last = walk.history[-1].at
    given: dict[StepName, str] = {}
    changed: list[StepName] = []
    for answer in walk.history:
        name = (answer.tree, answer.step)
        if given.get(name, answer.answer) != answer.answer:
            changed.append(name)
        given[name] = answer.answer
    others = calls.get((case.place or "", case.equipment or ""), ())
    again = any(case.id != one and last < at <= last + SECOND_CALL for at, one in others)
    return Walked(
        case=case,
        tree=position.tree,
        step=position.step,
        questions=len(position.path),
        begun=walk.history[0].at,
        last=last,
        given=tuple(given.items()),
        changed=tuple(changed),
        second_call=position.ended and again,
    )


def _figures(slug: str, walks: Sequence[Walked]) -> TreeFigures:
    ended = [walk for walk in walks if walk.ended]
    minutes = [(walk.last - walk.begun).total_seconds() / 60 for walk in ended]
    return TreeFigures(
        slug=slug,
        walks=len(walks),
        ended=len(ended),
        left=sum(walk.left for walk in walks),
        again=sum(walk.second_call for walk in walks),
        questions=median(walk.questions for walk in ended) if ended else None,
        minutes=median(minutes) if minutes else None,
        ends=tuple(_ends(ended)),
        steps=tuple(_steps(walks)),
    )


def _ends(ended: Iterable[Walked]) -> list[EndFigures]:
    """Those of the same name are one end, shown as it stands in the last walk to it."""
    groups: defaultdict[StepName, list[Walked]] = defaultdict(list)
    for walk in sorted(ended, key=lambda walk: walk.last):
        groups[walk.tree, walk.step.id].append(walk)
    found = [
        EndFigures(
            tree=tree,
            step=group[-1].step,
            walks=len(group),
            fixed=fixed_share(walk.case for walk in group),
            again=sum(walk.second_call for walk in group),
        )
        for (tree, _), group in groups.items()
    ]
    return sorted(found, key=lambda one: (-one.walks, one.tree, one.step.id))


def _steps(walks: Sequence[Walked]) -> list[StepFigures]:
    """Every step that was answered or where a walk was left, the most answered first."""
    answers = Counter(name for walk in walks for name, _ in walk.given)
    unsure = Counter(
        name for walk in walks for name, said in walk.given if UNSURE.lower() in said.lower()
    )
    left = Counter((walk.tree, walk.step.id) for walk in walks if walk.left)
    changed = Counter(name for walk in walks for name in walk.changed)
    names = sorted(answers.keys() | left.keys(), key=lambda name: (-answers[name], name))
    return [
        StepFigures(
            *name, answers[name], share(unsure[name], answers[name]), left[name], changed[name]
        )
        for name in names
    ]
