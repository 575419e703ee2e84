"""Same-fault alarms on simulated days: how many are false, and how soon a planted fault shows.

A quiet day draws reports of each kind at the rate of past elections, more at opening and at noon,
uniformly over places. A day with a fault has in addition one kind that strikes places at random
from one instant on. Four simulated elections of the same county are the history. Figures with
95 % Clopper-Pearson intervals; the delay is counted from the report of the third place.

Run from a checkout: python -m tests.benchmarks.alarms [QUIET [PLANTED]]
"""

from __future__ import annotations

import statistics
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from random import Random

from scipy.stats import binomtest

from kb.review.day.alarms import LEAST_PLACES, Alarm, Baseline, baseline
from kb.review.day.clusters import clusters
from kb.review.rows import Case
from tests.review import making

DAY = date(2026, 11, 3)
QUIET, PLANTED = 500, 200
SIZES = (50, 200, 1000)
# Faults a place and day, shared out over kinds: a few are common, most are rare.
A_PLACE = 0.7
KINDS = [
    (f"{equipment}|{symptom}", 1 / (rank + 1.5))
    for rank, (equipment, symptom) in enumerate(
        (one, other)
        for other in ("jam", "will-not-connect", "frozen", "no-power", "faint", "code-refused")
        for one in ("scanner", "epollbook", "bmd", "ballot-printer")
    )
]
# The share of a day's reports in each hour from 06:00 on: opening and noon are busy.
HOURS = (14, 12, 7, 5, 5, 6, 8, 7, 5, 4, 4, 5, 6, 5, 4, 3)


@dataclass(frozen=True)
class Rate:
    """So many of so many, with 95 % limits."""

    found: int
    of: int

    def __str__(self) -> str:
        limits = binomtest(self.found, self.of).proportion_ci(method="exact")
        share = self.found / self.of
        return f"{self.found} of {self.of} ({share:.1%}, {limits.low:.1%} to {limits.high:.1%})"


@dataclass(frozen=True)
class Figures:
    """Of one county's size: quiet days with an alarm, planted faults found, minutes of delay."""

    places: int
    false: Rate
    found: Rate
    delay: float


def day(places: int, random: Random, on: date = DAY) -> list[Case]:
    """A quiet day's reports."""
    midnight = datetime(on.year, on.month, on.day, tzinfo=UTC)
    names, weights = zip(*KINDS, strict=True)
    number = _poisson(places * A_PLACE, random)
    return [
        _case(n, name, random.randrange(places), midnight + _clock(random))
        for n, name in enumerate(random.choices(names, weights, k=number))
    ]


def planted(places: int, random: Random) -> tuple[list[Case], str]:
    """A day on which one rare kind strikes a place every few minutes, and its name."""
    kind = random.choice(KINDS[8:])[0]
    at = datetime(DAY.year, DAY.month, DAY.day, 6, tzinfo=UTC) + _clock(random) - timedelta(hours=6)
    struck = random.sample(range(places), min(places, max(6, places // 12)))
    extra = []
    for n, place in enumerate(struck):
        at += timedelta(minutes=random.expovariate(1 / 6))
        extra.append(_case(1_000_000 + n, kind, place, at))
    return day(places, random) + extra, kind


def figures(places: int, quiet: int, faulty: int, seed: int = 7) -> Figures:
    """Simulate one size of county."""
    random = Random(seed + places)
    before = history(places, random)
    false = sum(bool(_alarms(day(places, random), before)) for _ in range(quiet))
    found, delays = 0, []
    for _ in range(faulty):
        cases, kind = planted(places, random)
        alarm = next((one for one in _alarms(cases, before) if one.kind == kind), None)
        if alarm is not None:
            found += 1
            delays.append(max(0.0, (alarm.at - _third(cases, kind)).total_seconds() / 60))
    delay = statistics.median(delays) if delays else float("nan")
    return Figures(places, Rate(false, quiet), Rate(found, faulty), delay)


def history(places: int, random: Random, elections: int = 4) -> Baseline:
    """The baseline of some earlier elections of the same county."""
    days = [DAY - timedelta(days=180 * n) for n in range(1, elections + 1)]
    return baseline([(one, day(places, random, one)) for one in days], "UTC")


def _alarms(cases: Sequence[Case], before: Baseline) -> list[Alarm]:
    return [one.alarm for one in clusters(cases, before, "UTC", DAY)]


def _third(cases: Sequence[Case], kind: str) -> datetime:
    """When the third place of the planted kind reported."""
    seen: set[str | None] = set()
    for case in sorted(
        (one for one in cases if one.kind == kind), key=lambda one: str(one.reported)
    ):
        if int(case.id) >= 1_000_000:
            seen.add(case.place)
        if len(seen) == LEAST_PLACES and case.reported is not None:
            return case.reported
    raise ValueError("fewer places than an alarm takes")


def _clock(random: Random) -> timedelta:
    hour = random.choices(range(len(HOURS)), HOURS)[0]
    return timedelta(hours=6 + hour, minutes=random.uniform(0, 60))


def _poisson(mean: float, random: Random) -> int:
    """A Poisson number, as arrivals within one unit of time."""
    number, at = 0, random.expovariate(mean)
    while at < 1:
        number, at = number + 1, at + random.expovariate(mean)
    return number


def _case(number: int, kind: str, place: int, at: datetime) -> Case:
    equipment, _, symptom = kind.partition("|")
    return making.case(
        str(number), place=f"P{place}", zone=None, equipment=equipment, symptom=symptom,
        phase="voting", effect="device", reported=at,
    )  # fmt: skip


def main() -> int:
    """Print a line a size; 1 where more than one quiet day in twenty has a false alarm."""
    quiet, faulty = (*map(int, sys.argv[1:]), *(QUIET, PLANTED)[len(sys.argv) - 1 :])
    told = [figures(places, quiet, faulty) for places in SIZES]
    for one in told:
        sys.stdout.write(
            f"{one.places} places: quiet days with a false alarm {one.false}; planted faults found "
            f"{one.found}, median {one.delay:.0f} min after the third place\n"
        )
    return int(any(one.false.found * 20 > one.false.of for one in told))


if __name__ == "__main__":
    sys.exit(main())
