"""Corrections: which take a second person, which wait for one, and whether one may be carried out.

What concerns custody, counters or ballots is never corrected by one person alone: it is asked
for, and a lead or a manager who is somebody else carries it out or refuses it. The entry that
was asked for changes nothing by itself; what counts is event.corrected.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from kb.incidents.events import Event
from kb.incidents.kinds import CORRECTED, FINAL

ASKED = "correction.asked"
REFUSED = "correction.refused"

TWO_PERSONS = frozenset(
    {
        "seal.removed",
        "seal.applied",
        "compartment.opened",
        "compartment.closed",
        "counter.read",
        "witness.named",
        "ballots.moved",
        "ballots.tallied",
        "device.swapped",
        "place.reconciled",
        "materials.left",
        "materials.received",
    }
)

# How what cannot be corrected is ended, where it can be.
_ENDED_BY = {
    "hold.placed": "; a manager ends the hold by hold.lifted",
    "hold.lifted": "; a manager places the hold again by hold.placed",
    "correction.asked": "; somebody else refuses it by correction.refused",
}


@dataclass(frozen=True)
class Asked:
    """A correction that waits: the asking, and the entry that it means where that is there."""

    event: Event
    target: Event | None

    @property
    def replacement(self) -> Mapping[str, object] | None:
        """The body as it should be; None where only the time changes, or all is struck out."""
        told = self.event.body.get("replacement")
        return told if isinstance(told, dict) else None


def pending(events: Iterable[Event]) -> tuple[Asked, ...]:
    """What was asked for and is neither carried out nor refused, oldest first."""
    known = {event.id: event for event in events}
    decided = {
        str(event.body.get("asked"))
        for event in known.values()
        if event.kind in {CORRECTED, REFUSED} and event.body.get("asked")
    }
    waiting = [event for event in known.values() if event.kind == ASKED and event.id not in decided]
    waiting.sort(key=lambda event: (event.received, event.id))
    return tuple(Asked(event, known.get(str(event.body["event"]))) for event in waiting)


def refused(events: Iterable[Event]) -> frozenset[str]:
    """The askings that somebody refused: nothing carries them out any more."""
    return frozenset(str(event.body["asked"]) for event in events if event.kind == REFUSED)


def holds(
    correction: Event, meant: Sequence[Event], events: Mapping[str, Event], no: Collection[str]
) -> bool:
    """Whether a correction counts, by the events that are there: it may have come before them.

    `meant`: what it names, through a chain of corrections down to the entry itself; `no`: the
    askings that were refused.

    Whether its teller may correct others was asked when it was taken, if what it means was
    there by then. Of what came after it, it corrects only the teller's own.
    """
    if any(came_first(correction, one) for one in meant):
        return False
    name = str(correction.body.get("asked"))
    return not fault(correction, meant[-1], events.get(name), decided=name in no)


def came_first(correction: Event, meant: Event) -> bool:
    """Whether a correction was received before the entry of somebody else that it means."""
    return correction.actor != meant.actor and correction.received < meant.received


def fault(correction: Event, target: Event, asked: Event | None, *, decided: bool) -> str:
    """Why a correction may not be carried out by who tells it; empty where it may.

    `asked`: the asking that it names, if that is there; `decided`: whether that one was carried
    out or refused already.
    """
    if target.kind in FINAL:
        return f"{target.kind} is never corrected{_ENDED_BY.get(target.kind, '')}."
    if correction.imported and target.imported:
        return ""
    if "asked" not in correction.body:
        if target.kind not in TWO_PERSONS:
            return ""
        return (
            f"a correction of {target.kind} takes two persons: one asks for it, and a lead or a "
            "manager who is somebody else carries it out."
        )
    if asked is None or asked.kind != ASKED:
        return "the correction that it carries out is not in the record."
    return _fits(correction, asked, decided=decided)


def _fits(correction: Event, asked: Event, *, decided: bool) -> str:
    if decided:
        return "that correction was carried out or refused already."
    if asked.actor == correction.actor:
        return "nobody carries out a correction that they asked for themselves."
    for name in ("event", "replacement", "happened"):
        if asked.body.get(name) != correction.body.get(name):
            return f"it is not what was asked for: {name} differs."
    return ""
