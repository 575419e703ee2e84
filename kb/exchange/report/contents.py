"""What the after-action report says: findings by capability, the plan, place stories.

The structure follows the After-Action Report/Improvement Plan of the Homeland Security Exercise
and Evaluation Program (HSEEP-IP01, rev. April 2013): overview, analysis of capabilities with a
rating that people give, an improvement plan as an appendix.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from kb.incidents.actions import Action
from kb.review.findings import wording
from kb.review.findings.board import findings, quiet
from kb.review.findings.finding import Finding, method_of
from kb.review.methods import METHODS, Method
from kb.review.rows import UNKNOWN, Case
from kb.review.sections import Review

# What an election office must be able to do, and the methods that look at it.
CAPABILITIES = {
    "Equipment ready and sound": (
        "rates", "funnel", "chart", "kinds", "misfeeds", "shared", "before-after", "recurrence",
        "spares",
    ),
    "Voting kept going": ("restore", "time-lost", "alarms"),
    "Help by phone": ("hotline", "training"),
    "Custody and the record": ("custody", "record", "totals"),
}  # fmt: skip
# The ratings of the published form; people give them, no program does.
RATINGS = "P performed, S performed with some challenges, M with major challenges, U unable"
# A place's story is told where it had so many faults, or stands in a finding, or had stopped.
STORY_FROM = 3
# In a county of thousands the appendix stays one: the other stories are a page each.
STORIES = 60


@dataclass(frozen=True)
class Capability:
    """One capability with its findings, and what was looked at and does not stand out."""

    name: str
    findings: tuple[Finding, ...]
    quiet: tuple[str, ...]


@dataclass(frozen=True)
class StoryLine:
    """One case of a place, in words; times on the county's clock."""

    began: str
    what: str
    effect: str
    restored: str
    minutes: str
    outcome: str


@dataclass(frozen=True)
class Story:
    """What happened at one place."""

    place: str
    name: str
    zone: str
    ballots: str
    lines: tuple[StoryLine, ...]


@dataclass(frozen=True)
class Contents:
    """All of the report."""

    county: str
    made: date
    review: Review
    findings: tuple[Finding, ...]
    capabilities: tuple[Capability, ...]
    actions: tuple[Action, ...]
    capability_of: dict[str, str]
    methods: tuple[Method, ...]
    stories: tuple[Story, ...]
    stories_left_out: int


def contents(county: str, made: date, review: Review, actions: Sequence[Action]) -> Contents:
    """Put the review and its actions into the order of the report."""
    found = findings(review)
    calm = quiet(review, found)
    capabilities = tuple(
        Capability(
            name,
            tuple(one for one in found if one.method in methods),
            tuple(words for method, words in calm if method in methods),
        )
        for name, methods in CAPABILITIES.items()
    )
    of_method = {method: name for name, methods in CAPABILITIES.items() for method in methods}
    told = _stories(review, found)
    return Contents(
        county,
        made,
        review,
        tuple(found),
        capabilities,
        tuple(actions),
        {one.id: of_method.get(method_of(one.finding), "") for one in actions},
        METHODS,
        tuple(told[:STORIES]),
        max(0, len(told) - STORIES),
    )


def _stories(review: Review, found: Sequence[Finding]) -> list[Story]:
    """The places whose day is told case by case, in the order of their numbers."""
    material = review.material
    by_place: dict[str, list[Case]] = {}
    for case in material.counted:
        if case.place:
            by_place.setdefault(case.place, []).append(case)
    wanted = {one.place for one in found if one.place} | set(review.sections["time_lost"]["places"])
    wanted |= {place for place, cases in by_place.items() if _faults(cases) >= STORY_FROM}
    return [
        Story(
            place,
            material.places[place].name,
            material.places[place].zone,
            wording.plain(material.ballots.get(place)),
            tuple(_line(review, case) for case in _in_order(by_place.get(place, []))),
        )
        for place in sorted(one for one in wanted if one in material.places)
    ]


def _faults(cases: Sequence[Case]) -> int:
    return sum(case.fault for case in cases)


def _in_order(cases: Sequence[Case]) -> list[Case]:
    return sorted(cases, key=lambda case: (case.start is None, str(case.start), case.id))


def _line(review: Review, case: Case) -> StoryLine:
    material = review.material
    start, restored = case.start, case.restored
    minutes = (restored - start).total_seconds() / 60 if start and restored else None
    return StoryLine(
        wording.clock(start, material) if start else "–",
        f"{wording.kind(case.kind)}{f', {case.asset}' if case.asset else ''}",
        wording.effect(case.effect) if case.effect != UNKNOWN else UNKNOWN,
        wording.clock(restored, material) if restored else "–",
        wording.plain(minutes),
        wording.outcome(case.outcome) if case.outcome else "never ended",
    )
