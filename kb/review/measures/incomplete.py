"""What the record lacks, and where its times cannot be."""

from __future__ import annotations

from typing import Any

from kb.review.measures.spans import minutes
from kb.review.rows import UNKNOWN, Case, Material

# Ways a case ends that say that it works again: then a time belongs to it.
RESTORING = frozenset(
    {"fixed-by-phone", "fixed-on-site", "contingency-then-fixed", "device-swapped"}
)


def incomplete(material: Material) -> dict[str, Any]:
    """Missing fields and disorders by case; open cases; places without turnout; late openings."""
    counted = material.counted
    records = {case.id: lacks for case in counted if (lacks := [*missing(case), *disorders(case)])}
    turnout = material.turnout
    return {
        "records": records,
        "count": len(records),
        "open_cases": sorted(
            case.id for case in counted if case.outcome is None and case.restored is None
        ),
        "places_without_exposure": sorted(
            place
            for place in material.places
            if place not in turnout or turnout[place].ballots is None
        ),
        "places_with_zero_ballots": sorted(
            place for place in material.places if place in turnout and turnout[place].ballots == 0
        ),
        "late_openings": _late(material),
    }


def missing(case: Case) -> list[str]:
    """The columns that should be known and are not."""
    told = {
        "place": case.place is not None,
        "equipment": case.equipment != UNKNOWN,
        "effect": case.effect != UNKNOWN,
        "started_at": case.started is not None,
        "reported_at": case.reported is not None,
    }
    if case.effect != "none":
        told |= {"asset": case.asset is not None, "symptom": case.symptom != UNKNOWN}
    if case.outcome in RESTORING:
        told["restored_at"] = case.restored is not None
    return [name for name, known in told.items() if not known]


def disorders(case: Case) -> list[str]:
    """Times that stand before one that they must follow, as `later<earlier`."""
    pairs = (
        ("reported_at", case.reported, "started_at", case.started),
        ("dispatched_at", case.dispatched, "reported_at", case.reported),
        ("arrived_at", case.arrived, "dispatched_at", case.dispatched),
        ("restored_at", case.restored, "started_at", case.started),
    )
    return [
        f"{later}<{earlier}"
        for later, at, earlier, before in pairs
        if at is not None and before is not None and at < before
    ]


def _late(material: Material) -> dict[str, float]:
    """Minutes after the scheduled opening, of places that opened late."""
    found = {}
    for place, one in sorted(material.turnout.items()):
        if one.opened is not None and place in material.places:
            scheduled = material.voting_hours(place)[0]
            if one.opened > scheduled:
                found[place] = minutes(scheduled, one.opened)
    return found
