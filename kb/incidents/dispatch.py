"""Which rover to send where: the assignment with the least weighted time to arrival.

Each waiting case gets at most one free rover and each rover at most one case; the graver case
counts more by far, so it is never left for a nearer small one. Time to arrival is great-circle
distance times a road factor over speed, and what the rover still has to do where it is. The
lead decides; this only proposes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import asin, cos, radians, sin, sqrt

EARTH_KM = 6371.0088  # the mean radius (IUGG)
# A case of priority 1 counts as nine of priority 3: whole steps apart, so minutes seldom bridge it.
WEIGHTS = {1: 27.0, 2: 9.0, 3: 3.0, 4: 1.0}


@dataclass(frozen=True)
class Speed:
    """How rovers travel: road distance over straight distance, and km an hour."""

    road_factor: float = 1.3
    km_an_hour: float = 40.0


@dataclass(frozen=True)
class Free:
    """A rover: where it is (degrees, None where not known), zone, minutes until it can leave."""

    login: str
    position: tuple[float, float] | None
    zone: str = ""
    busy_minutes: float = 0.0


@dataclass(frozen=True)
class Case:
    """A case that waits: priority 1 to 4, minutes waited, where, zone."""

    id: str
    priority: int
    waited_minutes: float
    position: tuple[float, float] | None
    zone: str = ""


@dataclass(frozen=True)
class Proposal:
    """One rover for one case, and the minutes until it could be there."""

    case: str
    rover: str
    minutes: float


def distance(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Kilometres between two points (latitude, longitude in degrees), by the haversine formula."""
    (lat1, lon1), (lat2, lon2) = (tuple(map(radians, point)) for point in (one, other))
    half = sin((lat2 - lat1) / 2) ** 2 + cos(lat1) * cos(lat2) * sin((lon2 - lon1) / 2) ** 2
    return 2 * EARTH_KM * asin(min(1.0, sqrt(half)))


def minutes_to(rover: Free, case: Case, speed: Speed) -> float:
    """Minutes until a rover could be at a case; without a position, by its zone alone."""
    if rover.position is None or case.position is None:
        away = 15.0 if rover.zone and rover.zone == case.zone else 40.0
    else:
        km = distance(rover.position, case.position) * speed.road_factor
        away = km / speed.km_an_hour * 60
    return rover.busy_minutes + away


def propose(
    rovers: Sequence[Free], cases: Sequence[Case], speed: Speed | None = None
) -> list[Proposal]:
    """The assignment with the least weighted time to arrival over all cases that wait.

    Solved exactly (Kuhn-Munkres, by scipy). With more cases than rovers the graver and older
    ones come first: to leave a case costs more than any way to it.
    """
    if not rovers or not cases:
        return []
    # Slow to load, and not needed by most who load this module.
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415

    pace = speed or Speed()
    minutes = [[minutes_to(rover, case, pace) for case in cases] for rover in rovers]
    longest = max(map(max, minutes)) + 1
    # The gain of serving a case: what it would cost to leave it, less the weighted way.
    gain = [
        [
            WEIGHTS[case.priority] * (2 * longest + case.waited_minutes - minutes[i][j])
            for j, case in enumerate(cases)
        ]
        for i in range(len(rovers))
    ]
    rows, columns = linear_sum_assignment(gain, maximize=True)
    found = [
        Proposal(cases[j].id, rovers[i].login, minutes[i][j])
        for i, j in zip(rows.tolist(), columns.tolist(), strict=True)
    ]
    order = {case.id: (case.priority, -case.waited_minutes, case.id) for case in cases}
    return sorted(found, key=lambda one: order[one.case])
