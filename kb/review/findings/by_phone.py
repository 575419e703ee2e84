"""Findings beyond chance of the hotline: people too few, and what was asked too often."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scipy.special import bdtr

from kb.review.findings.finding import LEVEL, Finding, pointer
from kb.review.findings.wording import (
    chance,
    clock,
    listed,
    many,
    phase,
    plain,
)
from kb.review.measures.hotline import LEVEL as SERVICE
from kb.review.measures.rates import FEW
from kb.review.measures.shared import adjusted
from kb.review.sections import Review


def short_of_people(review: Review) -> Iterator[Finding]:
    """Half hours in which callers surely waited longer than they should, put together.

    Callers who wait, wait together, so a half hour's calls count as fewer independent ones, by
    the lag-one correlation r: n (1 - r) / (1 + r) (Bayley, G. V. and Hammersley, J. M. 1946, The
    "effective" number of independent observations in an autocorrelated time series, JRSS
    Supplement 8, 184-197; from memory).
    """
    lines = review.sections["hotline"]["half_hours"]
    names = list(lines)
    alike = review.sections["hotline"]["in_time_correlation"]
    chances = []
    for line in lines.values():
        seen, of = line["observed"], line["offered"] * (1 - alike) / (1 + alike)
        chances.append(1.0 if seen is None else float(bdtr(round(seen * of), round(of), SERVICE)))
    surely = set(review.sections["hotline"]["surely_understaffed"])
    short = [
        number
        for number, p in enumerate(adjusted(chances))
        if p <= LEVEL and names[number] in surely
    ]
    for first, last in _runs(short):
        told = [lines[name] for name in names[first : last + 1]]
        offered = sum(one["offered"] for one in told)
        in_time = sum(round((one["observed"] or 0) * one["offered"]) for one in told)
        until = (
            names[last + 1]
            if last + 1 < len(names)
            else clock(review.material.window[1], review.material)
        )
        yield Finding(
            key=f"short-of-people:{names[first]}",
            method="hotline",
            sort="beyond chance",
            title=f"The hotline was short of people from {names[first]} to {until}",
            words=(
                f"{in_time} of {many(offered, 'call')} were answered within 20 seconds; 80 % is "
                f"aimed at. {sum(one['abandoned'] for one in told)} callers gave up. At the usual "
                f"length of a call it took {max(one['seats'] or 0 for one in told)} people at "
                "the phones."
            ),
            sure=f"Chance {chance(max(adjusted(chances)[n] for n in range(first, last + 1)))} "
            "had 80 % been reached, allowing for all half hours of the day.",
            measure=pointer("hotline", "service_level"),
            wanted="up",
        )


def _runs(numbers: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Neighbouring numbers put together: first and last of each run."""
    for number in numbers:
        if number - 1 in numbers:
            continue
        last = number
        while last + 1 in numbers:
            last += 1
        yield number, last


def needs_training(review: Review) -> Iterator[Finding]:
    """Phases and zones with more questions per call than the other zones."""
    lines = review.sections["hotline"]["training"]["by_phase_and_zone"]
    for name, line in lines.items():
        p, ratio = line["p_adjusted"], line["ratio"]
        if p is None or p > LEVEL or line["k"] < FEW or (ratio is not None and ratio <= 1):
            continue
        phase_id, zone = name.split("|", 1)
        articles = list(line["articles"])[:3]
        yield Finding(
            key=f"training:{name}",
            method="training",
            sort="beyond chance",
            title=f"Zone {zone} asked more by phone than others in the phase {phase(phase_id)}",
            words=(
                f"{many(line['k'], 'case')} answered by phone, {plain(line['per_100_calls'], 2)} "
                f"per 100 calls: {plain(line['ratio'], 2)} times the other zones."
                + (f" Most answered by: {listed(articles)}." if articles else "")
            ),
            sure=f"Chance {chance(line['p_adjusted'])}, allowing for {len(lines)} comparisons.",
            measure=pointer("hotline", "training", "by_phase_and_zone", name, "per_100_calls"),
            rows={"zone": zone, "phase": phase_id},
        )
