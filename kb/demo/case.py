"""One scripted case of the demo's day: when it is told, and every event of its story.

All times of a case are minutes after its report. The story is told in full; who builds the
day leaves out what has not happened yet.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from kb.demo.clock import Today

# From the first to the last report of those that `share` places within the day.
SHARE_FROM = "07:20"
SHARE_UNTIL = timedelta(minutes=40)


@dataclass(frozen=True)
class Case:
    """A case as `demo/day.toml` has it; exactly one of `at`, `share` and `ago` is given."""

    place: str
    equipment: str
    symptom: str
    effect: str
    article: str
    words: str
    caller: str
    at: str = ""
    share: float = 0.0
    ago: int = 0
    flags: tuple[str, ...] = ()
    wait: int | None = None
    blocks_opening: bool | None = None
    ballots_inside: bool | None = None
    stored_growing: bool | None = None
    decision: str = ""
    rover: str = ""
    sent: int = 0
    arrives: int | None = None
    restored: int | None = None
    outcome: str = ""
    cause: str | None = None
    swap: str = ""
    opened: str = ""
    witnesses: int = 2
    sealed: bool = True
    shut: bool = True

    def reported(self, today: Today) -> datetime:
        """The instant at which the office hears of it."""
        if self.at:
            return today.at(self.at)
        if self.ago:
            return today.now - timedelta(minutes=self.ago)
        first = today.at(SHARE_FROM)
        told = first + self.share * (today.now - SHARE_UNTIL - first)
        return told.replace(second=0, microsecond=0)


@dataclass(frozen=True)
class Site:
    """What the story needs to know of the place, and who plays in it."""

    phone: str
    asset: str | None
    call: str
    answerer: str
    lead: str
    counter: int
    phase: str
    started: datetime
    seal_off: str
    seal_on: str
    witnesses: tuple[Mapping[str, object], ...]


@dataclass(frozen=True)
class Told:
    """One event of a story: minutes after the report, who tells it, and its body."""

    minute: float
    actor: str
    kind: str
    body: Mapping[str, object]


def story(case: Case, site: Site) -> Iterator[Told]:
    """Every event of a case from the first ring to its end, roughly in order."""
    yield from _call(case, site)
    if case.rover:
        yield Told(case.sent, site.answerer, "rover.sent", {"rover": case.rover})
    if case.decision:
        yield Told(case.sent + 1, site.lead, "decision.made", {"text": case.decision})
    if case.arrives is not None:
        yield Told(case.arrives, case.rover, "rover.arrived", {"rover": case.rover})
    if case.opened:
        yield from _opening(case, site)
    if case.restored is not None:
        yield from _end(case, site)


def _call(case: Case, site: Site) -> Iterator[Told]:
    call = {"call": site.call, "place": case.place}
    yield Told(-0.4, site.answerer, "call.offered", call)
    yield Told(-0.1, site.answerer, "call.answered", call)
    yield Told(0, site.answerer, "incident.reported", {
        "place": case.place, "phase": site.phase, "equipment": case.equipment,
        "asset": site.asset, "caller_role": case.caller, "call_back": site.phone,
        "started": site.started.isoformat(), "started_estimated": True,
    })  # fmt: skip
    yield Told(0.5, site.answerer, "incident.described", {
        "symptom": case.symptom, "effect": case.effect, "flags": list(case.flags),
        "words": case.words, "wait_minutes": case.wait, "ballots_inside": case.ballots_inside,
        "blocks_opening": case.blocks_opening, "stored_growing": case.stored_growing,
    })  # fmt: skip
    picked = {"words": case.words, "article": case.article}
    yield Told(0.8, site.answerer, "search.picked", picked)
    yield Told(2.6, site.answerer, "call.ended", call)


def _opening(case: Case, site: Site) -> Iterator[Told]:
    """Counter and seal, two witnesses, open; then closed, sealed, counter again."""
    teller = case.rover or site.answerer
    begin = 2 if case.arrives is None else case.arrives + 1
    counter = {"asset": site.asset, "public": site.counter}
    where = {"where": case.opened}
    counts = case.equipment == "scanner"
    if counts:
        yield Told(begin, teller, "counter.read", counter | {"moment": "before"})
    yield Told(begin + 1, teller, "seal.removed", where | {"seal": site.seal_off})
    for witness in site.witnesses[: case.witnesses]:
        yield Told(begin + 1.5, teller, "witness.named", witness)
    compartment = {"compartment": case.opened}
    yield Told(begin + 2, teller, "compartment.opened", compartment)
    if case.restored is None:
        return
    if case.shut:
        yield Told(case.restored - 2, teller, "compartment.closed", compartment)
    if case.sealed:
        yield Told(case.restored - 1, teller, "seal.applied", where | {"seal": site.seal_on})
    if counts:
        yield Told(case.restored - 0.5, teller, "counter.read", counter | {"moment": "after"})


def _end(case: Case, site: Site) -> Iterator[Told]:
    assert case.restored is not None
    teller = case.rover or site.answerer
    if case.swap:
        swap = {"old": site.asset, "new": case.swap, "memory": "stays sealed in the old scanner"}
        yield Told(case.restored - 3, teller, "device.swapped", swap)
    end: dict[str, object] = {"outcome": case.outcome}
    if case.cause:
        end |= {"cause": case.cause, "cause_confidence": "likely"}
    if case.effect == "none":
        end |= {"reason": "nothing was out of order"}
    else:
        yield Told(case.restored, teller, "voting.restored", {})
    yield Told(case.restored + 1, site.answerer, "incident.closed", end)
