"""Dispatch by the proposal against first come, first served, on simulated days.

Cases come at random over 14 hours in a county of 60 by 60 km, with priorities as on a usual day;
eight rovers, each stop 25 minutes. Both ways see the same cases. The peer sends the nearest free
rover to the case that has waited longest. Compared is the time from report to arrival, weighted
as `kb.incidents.dispatch` weighs priorities; the interval is a 95 % bootstrap over days.

Run from a checkout: python -m tests.benchmarks.dispatch [DAYS]
"""

from __future__ import annotations

import statistics
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random

from kb.incidents.dispatch import WEIGHTS, Case, Free, Speed, minutes_to, propose

DAYS, ROVERS, CASES, STOP, HOURS = 200, 8, 110, 25.0, 14.0
SPEED = Speed()
Send = Callable[[Sequence[Free], Sequence[Case]], list[tuple[str, str]]]


@dataclass(frozen=True)
class Arrival:
    """A case and the minute of the day at which it was reported."""

    at: float
    case: Case


def day(random: Random) -> list[Arrival]:
    """The cases of a day, in the order in which they come."""
    times = sorted(random.uniform(0, HOURS * 60) for _ in range(CASES))
    return [
        Arrival(at, Case(str(n), random.choices((1, 2, 3, 4), (1, 3, 3, 3))[0], 0.0, _spot(random)))
        for n, at in enumerate(times)
    ]


def by_proposal(free: Sequence[Free], waiting: Sequence[Case]) -> list[tuple[str, str]]:
    """Our way."""
    return [(one.rover, one.case) for one in propose(free, waiting, SPEED)]


def first_come(free: Sequence[Free], waiting: Sequence[Case]) -> list[tuple[str, str]]:
    """The peer: the case that has waited longest gets the nearest free rover."""
    left, sent = list(free), []
    for case in sorted(waiting, key=lambda one: -one.waited_minutes):
        if left:
            nearest = min(left, key=lambda one: minutes_to(one, case, SPEED))
            left.remove(nearest)
            sent.append((nearest.login, case.id))
    return sent


def work(arrivals: Sequence[Arrival], send: Send, random: Random) -> float:
    """The mean weighted minutes from report to arrival of one day."""
    spots = {f"r{n}": _spot(random) for n in range(ROVERS)}
    free_at = dict.fromkeys(spots, 0.0)
    reported = {one.case.id: one.at for one in arrivals}
    waiting: dict[str, Case] = {}
    coming, spent, weight, at = list(arrivals), 0.0, 0.0, 0.0
    while coming or waiting:
        while coming and coming[0].at <= at:
            case = coming.pop(0).case
            waiting[case.id] = case
        free = [Free(name, spots[name]) for name in spots if free_at[name] <= at]
        cases = [
            Case(one.id, one.priority, at - reported[one.id], one.position)
            for one in waiting.values()
        ]
        for name, identifier in send(free, cases) if free and cases else []:
            case = waiting.pop(identifier)
            there = at + minutes_to(Free(name, spots[name]), case, SPEED)
            spent += WEIGHTS[case.priority] * (there - reported[identifier])
            weight += WEIGHTS[case.priority]
            spots[name], free_at[name] = case.position or spots[name], there + STOP
        # The next moment at which anything can change.
        later = [one for one in free_at.values() if one > at] if waiting else []
        later += [coming[0].at] if coming else []
        at = min(later) if later else at
    return spent / weight


def compared(days: int = DAYS, seed: int = 3) -> tuple[float, float, float, tuple[float, float]]:
    """Mean weighted minutes of both ways, their ratio, and its 95 % interval."""
    random = Random(seed)
    pairs = []
    for _ in range(days):
        arrivals, start = day(random), random.random()
        ours, theirs = (work(arrivals, send, Random(start)) for send in (by_proposal, first_come))
        pairs.append((ours, theirs))
    ratios = sorted(_ratio(random.choices(pairs, k=len(pairs))) for _ in range(1000))
    means = [statistics.fmean(column) for column in zip(*pairs, strict=True)]
    return means[0], means[1], _ratio(pairs), (ratios[25], ratios[974])


def _ratio(pairs: Sequence[tuple[float, float]]) -> float:
    return sum(ours for ours, _ in pairs) / sum(theirs for _, theirs in pairs)


def _spot(random: Random) -> tuple[float, float]:
    """Somewhere in the county, in degrees."""
    return 40 + random.uniform(0, 60) / 111.2, -90 + random.uniform(0, 60) / 85.0


def main() -> int:
    """Print the figures; 1 where the peer is as good."""
    days = int(sys.argv[1]) if len(sys.argv) > 1 else DAYS
    ours, theirs, ratio, (low, high) = compared(days)
    sys.stdout.write(
        f"{days} days: weighted minutes to arrival {ours:.1f}, first come first served "
        f"{theirs:.1f}; ratio {ratio:.2f} (95 % {low:.2f} to {high:.2f})\n"
    )
    return int(high >= 1)


if __name__ == "__main__":
    sys.exit(main())
