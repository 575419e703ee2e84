"""Before and after: the rate of a class of equipment at the same places in two elections."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from kb.review.measures.ratio import ratio
from kb.review.rows import Material, Turnout

CHECKED_IN = "epollbook"


@dataclass(frozen=True)
class Comparison:
    """One comparison: a class, the election before, and the places (none named: all)."""

    name: str
    equipment: str
    before: str
    places: frozenset[str] = frozenset()


def against_last(material: Material, earlier: Sequence[Material]) -> list[Comparison]:
    """Every deployed class against the election before; none without one."""
    if not earlier:
        return []
    return every_class(material, earlier[-1].election.id)


def every_class(material: Material, before: str) -> list[Comparison]:
    """Every deployed class against one election before."""
    return [Comparison(f"{name}|all", name, before) for name in sorted(material.deployed_count)]


def before_after(
    material: Material, earlier: Sequence[Material], asked: Sequence[Comparison]
) -> dict[str, Any]:
    """Each comparison by its name."""
    known = {one.election.id: one for one in earlier}
    return {
        one.name: of_places(material, known[one.before], one.equipment, one.places or None)
        for one in asked
    }


def of_places(
    after: Material, before: Material, equipment: str, places: Collection[str] | None = None
) -> dict[str, Any]:
    """Faults of the class at places that hold one and took voters in both elections.

    Exposure: check-ins for poll books, ballots otherwise.
    """
    kept = []
    n1 = n2 = 0
    for place in sorted({str(one.place) for one in after.deployed if one.equipment == equipment}):
        one = _exposure(before.turnout.get(place), equipment)
        two = _exposure(after.turnout.get(place), equipment)
        if one and two and (places is None or place in places):
            kept.append(place)
            n1, n2 = n1 + one, n2 + two
    k1, k2 = (_faults(one, equipment, frozenset(kept)) for one in (before, after))
    found = ratio(k1, n1, k2, n2)
    return {
        "places": len(kept),
        "before_k": k1,
        "before_exposure": n1,
        "after_k": k2,
        "after_exposure": n2,
        "ratio": found.value,
        "low": found.low,
        "high": found.high,
        "p": found.p,
        "p_central": found.central,
    }


def _exposure(of: Turnout | None, equipment: str) -> int | None:
    if of is None:
        return None
    return of.checkins if equipment == CHECKED_IN else of.ballots


def _faults(material: Material, equipment: str, places: frozenset[str]) -> int:
    return sum(case.equipment == equipment and case.place in places for case in material.faults)
