"""An incident as it stands: everything that its events tell, none of it editable."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from kb.incidents.order import Entry


@dataclass(frozen=True)
class Picked:
    """An article that was opened: its slug, its version, and the words that found it."""

    slug: str
    hash: str
    words: str


@dataclass(frozen=True)
class AnswerGiven:
    """One answer in a walk: to which step, what, by whom and when. None is ever lost."""

    tree: str
    hash: str
    step: str
    answer: str
    by: str
    at: datetime


@dataclass(frozen=True)
class Walk:
    """A walk through a tree: where it started, over which text, and where it stands.

    `answers` lead to the present position, ready to be replayed; `history` holds every answer
    ever given, those taken back or given twice included.
    """

    id: str
    tree: str
    hash: str
    answers: tuple[tuple[str, str, str], ...] = ()
    history: tuple[AnswerGiven, ...] = ()

    def answered(self, given: AnswerGiven) -> Walk:
        """The walk with one more answer: a later one to the same step takes back what followed."""
        steps = [(tree, step) for tree, step, _ in self.answers]
        answer = (given.tree, given.step, given.answer)
        history = (*self.history, given)
        if (given.tree, given.step) not in steps:
            return replace(self, answers=(*self.answers, answer), history=history)
        at = steps.index((given.tree, given.step))
        if self.answers[at] == answer:
            return replace(self, history=history)
        return replace(self, answers=(*self.answers[:at], answer), history=history)


@dataclass(frozen=True)
class Seal:
    """A seal taken off or put on."""

    number: str
    where: str
    state: str
    at: datetime
    by: str


@dataclass(frozen=True)
class Counter:
    """A reading of a device's counters; `moment` is "before", "after" or empty."""

    asset: str
    public: int | None
    protective: int | None
    moment: str
    at: datetime
    by: str


@dataclass(frozen=True)
class Witness:
    """Who saw it. `person` is their account, `confirmed_by` how they confirmed it."""

    name: str
    role: str
    person: str | None
    confirmed_by: str | None
    party_rule_met: bool | None
    at: datetime


@dataclass(frozen=True)
class Opening:
    """What was opened, from when to when; either end may not have been told."""

    compartment: str
    opened: datetime | None
    closed: datetime | None


@dataclass(frozen=True)
class Move:
    """Ballots that were put elsewhere; a count of None means "not counted"."""

    source: str
    to: str
    count: int | None
    container: str
    at: datetime


@dataclass(frozen=True)
class Tally:
    """What became of stored ballots."""

    stored: int | None
    accepted: int | None
    returned: int | None
    at: datetime


@dataclass(frozen=True)
class Swap:
    """A device taken out of use and the one put in its place."""

    old: str | None
    new: str | None
    memory: str
    at: datetime


@dataclass(frozen=True)
class Said:
    """A note or a decision: what, who else was asked, by whom."""

    text: str
    who_else: str
    at: datetime
    by: str


@dataclass(frozen=True)
class Picture:
    """A picture by its SHA-256, what it shows, when and by whom it was taken."""

    picture: str
    text: str
    at: datetime
    by: str


@dataclass(frozen=True)
class Incident:
    """One case at one place. None and empty mean "not known"; all times are aware instants.

    `effect` is the effect now, `worst_effect` the worst it ever had; `effect_said` what people
    said, before the tests of `effect.py`. Times that a rover's clock gave are corrected for
    its skew.
    """

    id: str = ""
    election: str = ""
    place: str | None = None
    precinct: str | None = None
    phase: str | None = None
    equipment: str | None = None
    asset: str | None = None
    caller_role: str | None = None
    call_back: str | None = None
    words: str | None = None
    screen: str | None = None
    symptom: str | None = None
    cause: str | None = None
    cause_confidence: str | None = None
    effect: str | None = None
    effect_said: str | None = None
    worst_effect: str | None = None
    flags: frozenset[str] = frozenset()
    ballots_inside: bool | None = None
    wait_minutes: int | None = None
    blocks_opening: bool = False
    last_of_class: bool = False
    stored_growing: bool = False
    style_stopped: bool = False
    contingency: bool = False
    ballots_affected: int | None = None
    voters_affected: int | None = None
    first: datetime | None = None
    reported: datetime | None = None
    started: datetime | None = None
    started_estimated: bool = False
    answered: datetime | None = None
    dispatched: datetime | None = None
    arrived: datetime | None = None
    restored: datetime | None = None
    closed: datetime | None = None
    rover: str | None = None
    rover_there: bool = False
    outcome: str | None = None
    reason: str | None = None
    incomplete: str | None = None
    duplicate_of: str | None = None
    parent: str | None = None
    county_wide: bool = False
    report_by: datetime | None = None
    call_back_due: datetime | None = None
    held: bool = False
    imported: bool = False
    articles: tuple[Picked, ...] = ()
    walks: tuple[Walk, ...] = ()
    seals_off: tuple[Seal, ...] = ()
    seals_on: tuple[Seal, ...] = ()
    counters: tuple[Counter, ...] = ()
    witnesses: tuple[Witness, ...] = ()
    compartments: tuple[Opening, ...] = ()
    ballots: tuple[Move, ...] = ()
    tallies: tuple[Tally, ...] = ()
    swaps: tuple[Swap, ...] = ()
    notes: tuple[Said, ...] = ()
    pictures: tuple[Picture, ...] = ()
    decisions: tuple[Said, ...] = ()
    late: tuple[str, ...] = ()
    timeline: tuple[Entry, ...] = ()

    @property
    def status(self) -> Literal["open", "closed"]:
        """Open until it is closed, or found to be the same case as another."""
        return "closed" if self.closed else "open"

    @property
    def start(self) -> datetime | None:
        """When the trouble began, as far as known: started, else reported."""
        return self.started or self.reported

    @property
    def article(self) -> str | None:
        """The article that was opened last."""
        return self.articles[-1].slug if self.articles else None

    @property
    def note(self) -> str | None:
        """All notes as one text."""
        return "\n".join(said.text for said in self.notes) or None
