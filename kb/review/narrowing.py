"""A part of an election: one zone, kind of fault, phase, or part of the day."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta

from kb.review.rows import Material

# Parts of the day, by the start of a fault and of a call.
PARTS = {
    "before": "before opening",
    "opening": "the first hour",
    "morning": "until noon",
    "afternoon": "noon to five",
    "evening": "five to closing",
    "after": "after closing",
}


@dataclass(frozen=True)
class Narrowing:
    """What is looked at; empty means all. `kind`: a class, or `equipment|symptom`."""

    zone: str = ""
    kind: str = ""
    phase: str = ""
    part: str = ""

    def __bool__(self) -> bool:
        return any((self.zone, self.kind, self.phase, self.part))


def narrow(material: Material, to: Narrowing) -> Material:
    """The same election with what belongs to this part alone.

    A zone keeps its places with their devices, turnout and calls; kind and phase keep cases;
    a part of the day keeps cases and calls that began in it.
    """
    if not to:
        return material
    inside = _inside(material, to.part)
    places = {
        name: place
        for name, place in material.places.items()
        if not to.zone or place.zone == to.zone
    }
    cases = tuple(
        case
        for case in material.cases
        if (not to.zone or case.place in places)
        and (not to.kind or to.kind in {case.equipment, case.kind})
        and (not to.phase or case.phase == to.phase)
        and (not to.part or (case.start is not None and inside(case.start)))
    )
    kept = {case.id for case in cases}
    return replace(
        material,
        cases=cases,
        places=places,
        devices=tuple(
            one for one in material.devices if not to.zone or not one.place or one.place in places
        ),
        turnout={name: one for name, one in material.turnout.items() if name in places},
        calls=tuple(
            call
            for call in material.calls
            if (not to.zone or call.place in places) and (not to.part or inside(call.started))
        ),
        openings={name: one for name, one in material.openings.items() if name in kept},
        ends={name: one for name, one in material.ends.items() if name in kept},
    )


def narrow_all(materials: Sequence[Material], to: Narrowing) -> list[Material]:
    """The same for several elections."""
    return [narrow(one, to) for one in materials]


def _inside(material: Material, part: str) -> Callable[[datetime], bool]:
    """Whether an instant lies in a part of the voting day."""
    opening, closing = material.election.opening(), material.election.closing()
    day = material.election.date
    bounds = {
        "before": (None, opening),
        "opening": (opening, opening + timedelta(hours=1)),
        "morning": (opening + timedelta(hours=1), material.at(day, time(12))),
        "afternoon": (material.at(day, time(12)), material.at(day, time(17))),
        "evening": (material.at(day, time(17)), closing),
        "after": (closing, None),
    }
    begin, end = bounds.get(part, (None, None))
    return lambda at: (begin is None or begin <= at) and (end is None or at < end)
