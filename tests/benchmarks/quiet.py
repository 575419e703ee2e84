"""False findings: what the findings page says of simulated elections in which nothing is planted.

Places differ (rates drawn from a gamma distribution that stays the same from election to
election, and each place's size), times to restore are the same everywhere, devices fail
whatever their batch, and the hotline has people enough. `python -m tests.benchmarks.quiet`
runs 200 elections of 200 places; the suite runs 5. All of it is invented.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta

import click
import numpy as np

from kb.incidents.places import Device, Election, Place
from kb.review.findings.board import findings
from kb.review.measures.hotline import seats_for
from kb.review.measures.shares import share
from kb.review.rows import Call, Case, Material, Turnout
from kb.review.sections import review

Generator = np.random.Generator
SYMPTOMS = {
    "scanner": ("jam", "multi-feed", "rejects-good", "frozen", "no-power", "counter-odd"),
    "epollbook": ("will-not-connect", "slow", "frozen", "low-battery"),
    "report-printer": ("does-not-print", "faint", "jam"),
    "bmd": ("touch-off", "audio-dead", "frozen"),
    "ballot-box": ("will-not-latch", "full", "diverter"),
}
WEIGHTS = (0.4, 0.25, 0.12, 0.08, 0.15)
# Half hours of a day from 06:00, as calls come in.
PROFILE = np.array(
    [18, 40, 72, 60, 44, 30] + [24] * 14 + [28, 36, 50, 54, 44, 28, 24, 14, 4, 2, 1, 1]
)
DAYS = (date(2024, 11, 5), date(2025, 11, 4), date(2026, 11, 3))
PER_BALLOTS = 1.5
HANDLING = 200.0
# Enough people for four in five calls by formula, and one more at each hour.
MORE_SEATS = 1


def elections(seed: int, places: int) -> list[Material]:
    """Three elections of one quiet county, the last one to be reviewed."""
    random = np.random.default_rng(seed)
    sizes = np.exp(random.normal(np.log(500), 0.6, places)).astype(int).clip(20, 4000)
    rates = PER_BALLOTS * random.gamma(3, 1 / 3, places)
    zones = random.integers(1, 9, places)
    county = [
        Place(
            place=f"P{number:04d}",
            name=f"Place {number}",
            zone=f"Z{zones[number]}",
            opens=time(7),
            closes=time(20),
            groups=("evening-class",) if random.random() < 0.4 else (),
        )
        for number in range(places)
    ]
    devices = tuple(_devices(random, county))
    return [_election(random, day, county, devices, sizes, rates) for day in DAYS]


def _devices(random: Generator, county: Sequence[Place]) -> Iterator[Device]:
    for kind in SYMPTOMS:
        for number, place in enumerate(county):
            batch = int(random.integers(1, 13))
            yield Device(
                asset=f"{kind}-{number}",
                equipment=kind,
                model=f"model {batch % 3}",
                batch=f"B{batch}",
                place=place.id,
            )


def _election(
    random: Generator,
    day: date,
    county: Sequence[Place],
    devices: tuple[Device, ...],
    sizes: np.ndarray,
    rates: np.ndarray,
) -> Material:
    election = Election(
        election=str(day), name=str(day), date=day, time_zone="UTC", opens=time(7), closes=time(20)
    )
    ballots = (sizes * random.uniform(0.7, 1.1, len(county))).astype(int) + 1
    begin = datetime.combine(day, time(6), UTC)
    faults = random.poisson(rates * ballots / 1000)
    cases = [
        _case(random, f"{day}-{number}-{one}", place, begin)
        for number, place in enumerate(county)
        for one in range(faults[number])
    ]
    turnout = {
        place.id: Turnout(int(ballots[number]), int(ballots[number]), int(ballots[number]), None)
        for number, place in enumerate(county)
    }
    callers = [str(case.place) for case in cases] or [county[0].id]
    calls = tuple(_calls(random, len(cases) * 2.2, callers, begin))
    return Material(
        election, tuple(cases), {one.id: one for one in county}, devices, turnout, calls
    )


def _case(random: Generator, identifier: str, place: Place, begin: datetime) -> Case:
    kind = list(SYMPTOMS)[int(random.choice(len(SYMPTOMS), p=WEIGHTS))]
    started = begin + timedelta(minutes=_minute(random))
    reported = started + timedelta(minutes=float(random.exponential(3)))
    restored = started + timedelta(minutes=float(np.exp(random.normal(np.log(20), 0.8))))
    return Case(
        id=identifier,
        place=place.id,
        zone=place.zone,
        asset=f"{kind}-{int(place.id[1:])}",
        equipment=kind,
        symptom=str(random.choice(SYMPTOMS[kind])),
        phase="voting",
        effect=str(random.choice(["device", "slowed", "stopped"], p=[0.6, 0.35, 0.05])),
        flags="",
        outcome=str(random.choice(["fixed-by-phone", "fixed-on-site"])),
        article="scanner-jam",
        started=started,
        reported=reported,
        dispatched=None,
        arrived=None,
        restored=None if random.random() < 0.03 else restored,
    )


def _minute(random: Generator) -> float:
    half = int(random.choice(len(PROFILE), p=PROFILE / PROFILE.sum()))
    return 30 * half + 30 * float(random.random())


def _calls(
    random: Generator, mean: float, callers: Sequence[str], begin: datetime
) -> Iterator[Call]:
    """First come, first served; each half hour as many people as its mean of calls asks for."""
    shares = PROFILE / PROFILE.sum()
    times = sorted(60 * _minute(random) for _ in range(random.poisson(mean)))
    free: list[float] = []
    for number, started in enumerate(times):
        expected = mean * shares[min(int(started // 1800), len(shares) - 1)]
        seats = (seats_for(max(1, round(expected)), HANDLING)[0] or 0) + MORE_SEATS
        while len(free) < seats:
            heapq.heappush(free, 0.0)
        answered = max(started, heapq.heappop(free))
        ended = answered + float(random.exponential(HANDLING))
        # Who goes off duty does so when the call is over.
        if len(free) < seats:
            heapq.heappush(free, ended)
        place = callers[int(random.integers(len(callers)))]
        at = [begin + timedelta(seconds=second) for second in (started, answered, ended)]
        yield Call(f"C{number}", place, at[0], at[1], at[2], None)


def false_findings(seed: int, places: int) -> Counter[str]:
    """How many findings beyond chance one quiet election has, by sort of finding."""
    *earlier, material = elections(seed, places)
    found = findings(review(material, earlier))
    return Counter(one.key.split(":")[0] for one in found if one.sort == "beyond chance")


@click.command()
@click.option("--elections", "number", default=200, show_default=True)
@click.option("--places", default=200, show_default=True)
def main(number: int, places: int) -> None:
    """Print for each sort of finding in how many quiet elections it was made, with 95 % limits."""
    found = [false_findings(seed, places) for seed in range(number)]
    kinds = sorted({kind for one in found for kind in one})
    for kind in [*kinds, "any"]:
        hit = sum(bool(one if kind == "any" else one[kind]) for one in found)
        all_ = sum(one.total() if kind == "any" else one[kind] for one in found)
        limits = share(hit, number)
        assert limits is not None
        click.echo(
            f"{kind:18} in {hit} of {number} ({limits.low:.1%} to {limits.high:.1%}); "
            f"{all_ / number:.3f} an election"
        )


if __name__ == "__main__":
    main()
