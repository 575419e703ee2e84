"""The first summary of an election: how many, where, what, when, and at which rate.

Places are listed in the order of their ids, never ranked: a small place with one fault has a
high rate by chance. Rates stand only for the whole, for zones and for classes, each with its
exposure and limits, and with "too few to say" where that is so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from kb.incidents.lists import EFFECTS, PHASES
from kb.incidents.places import Election
from kb.review.counts import Count, by, by_hour, listed, most_first
from kb.review.rates import PER_BALLOTS, PER_DEVICES, Rate, rate
from kb.review.rows import UNKNOWN, Material

NO_BALLOTS = "no ballots known yet"


@dataclass(frozen=True)
class Totals:
    """Rows of the record, marked duplicates among them, counted cases, faults, still open."""

    rows: int
    duplicates: int
    counted: int
    faults: int
    open: int


@dataclass(frozen=True)
class RateLine:
    """A rate with what it is of."""

    key: str
    rate: Rate


@dataclass(frozen=True)
class Rates:
    """Rates of one election. `left_out`: faults at places whose ballots are not known or 0."""

    election: Election
    overall: RateLine
    by_zone: tuple[RateLine, ...]
    by_equipment: tuple[RateLine, ...]
    left_out: int
    places_without_ballots: tuple[str, ...]


@dataclass(frozen=True)
class Summary:
    """All of the page: `by_place` in the order of ids, `by_kind` most faults first.

    `rates` are None where no ballots are known; `per_devices` are per 100 deployed devices.
    """

    election: Election
    totals: Totals
    by_place: tuple[Count, ...]
    by_kind: tuple[Count, ...]
    by_phase: tuple[Count, ...]
    by_effect: tuple[Count, ...]
    by_hour: tuple[Count, ...]
    per_devices: tuple[RateLine, ...]
    rates: Rates | None

    @property
    def rates_note(self) -> str:
        """What must be said beside the rates; empty where they are this election's own."""
        if self.rates is None:
            return NO_BALLOTS
        of = self.rates.election
        return "" if of == self.election else f"{NO_BALLOTS}: these are of {of.name}, {of.date}"


def summarise(material: Material) -> Summary:
    """Count and rate the cases of one election."""
    cases = material.cases
    counted = material.counted
    return Summary(
        election=material.election,
        totals=Totals(
            rows=len(cases),
            duplicates=len(cases) - len(counted),
            counted=len(counted),
            faults=len(material.faults),
            open=sum(case.restored is None and case.outcome is None for case in counted),
        ),
        by_place=tuple(listed(by(cases, lambda case: case.place or UNKNOWN), ())),
        by_kind=tuple(most_first(by(cases, lambda case: case.kind))),
        by_phase=tuple(listed(by(cases, lambda case: case.phase), PHASES)),
        by_effect=tuple(listed(by(cases, lambda case: case.effect), EFFECTS)),
        by_hour=tuple(by_hour(cases, material.election.time_zone)),
        per_devices=tuple(_per_devices(material)),
        rates=rates(material),
    )


def rates(material: Material) -> Rates | None:
    """Faults per 1,000 ballots at usable places; None where no ballots are known."""
    ballots = material.ballots
    faults = [case for case in material.faults if case.place in ballots]
    overall = rate(len(faults), sum(ballots.values()), PER_BALLOTS)
    if overall is None:
        return None
    of_zone: Counter[str] = Counter()
    for place, number in ballots.items():
        of_zone[material.zone(place)] += number
    in_zone = Counter(case.zone or UNKNOWN for case in faults)
    of_class = Counter(case.equipment for case in faults)
    total = sum(ballots.values())
    return Rates(
        election=material.election,
        overall=RateLine("all", overall),
        by_zone=_lines((zone, in_zone[zone], of_zone[zone]) for zone in sorted(of_zone)),
        by_equipment=_lines((name, of_class[name], total) for name in sorted(of_class)),
        left_out=len(material.faults) - len(faults),
        places_without_ballots=tuple(sorted(material.places.keys() - ballots.keys())),
    )


def _lines(counts: Iterable[tuple[str, int, int]], per: int = PER_BALLOTS) -> tuple[RateLine, ...]:
    made = ((key, rate(count, exposure, per)) for key, count, exposure in counts)
    return tuple(RateLine(key, found) for key, found in made if found is not None)


def _per_devices(material: Material) -> tuple[RateLine, ...]:
    """All faults of a class per 100 deployed devices of it."""
    faults = Counter(case.equipment for case in material.faults)
    deployed = material.deployed
    return _lines(((name, faults[name], deployed[name]) for name in sorted(deployed)), PER_DEVICES)
