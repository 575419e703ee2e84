"""Findings beyond chance of the hotline: people too few, and what was asked too often."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scipy.special import bdtr

from kb.review.findings.finding import LEVEL, Finding, pointer
from kb.review.findings.wording import clock, listed, many, phase, plain, sure, times
from kb.review.measures.hotline import LEVEL as SERVICE
from kb.review.measures.hotline import Half, by_half_hour
from kb.review.measures.rates import FEW
from kb.review.measures.shared import adjusted
from kb.review.measures.training import ASKED
from kb.review.sections import Review


def short_of_people(review: Review) -> Iterator[Finding]:
    """Half hours in which callers surely waited longer than they should, put together.

    Callers who wait, wait together, so a half hour's calls count as fewer independent ones, by
    the lag-one correlation r: n (1 - r) / (1 + r) (Bayley, G. V. and Hammersley, J. M. 1946, The
    "effective" number of independent observations in an autocorrelated time series, JRSS
    Supplement 8, 184-197; from memory).
    """
    halves = by_half_hour(review.material)
    names = list(halves)
    alike = review.sections["hotline"]["in_time_correlation"]
    chances = adjusted([_chance(half, alike) for half in halves.values()])
    short = [
        number
        for number, name in enumerate(names)
        if chances[number] <= LEVEL and halves[name].surely
    ]
    for first, last in _runs(short):
        told = [halves[name] for name in names[first : last + 1]]
        known, soon = sum(len(half.known) for half in told), sum(half.soon for half in told)
        gone = sum(call.answered is None for half in told for call in half.calls)
        lines = [review.sections["hotline"]["half_hours"][name] for name in names]
        seats = max((line["seats"] or 0 for line in lines[first : last + 1]), default=0)
        until = names[last + 1] if last + 1 < len(names) else _end(review)
        yield Finding(
            key=f"short-of-people:{names[first]}",
            sort="beyond chance",
            title=f"The hotline was short of people from {names[first]} to {until}",
            words=(
                f"{soon} of {many(known, 'call')} were answered within 20 seconds; 80 % is aimed "
                f"at. {many(gone, 'caller')} gave up."
                + (
                    f" At the usual length of a call it took {seats} people at the phones."
                    if seats
                    else ""
                )
            ),
            sure=sure(max(chances[first : last + 1]), f"{many(len(names), 'half hour')} at 80 %"),
            measure=pointer("hotline", "half_hours", names[first], "observed"),
            wanted="up",
        )


def _chance(half: Half, alike: float) -> float:
    """P(so few in time) had 80 % been reached."""
    if not half.known:
        return 1.0
    share, of = half.soon / len(half.known), len(half.known) * (1 - alike) / (1 + alike)
    return float(bdtr(round(share * of), round(of), SERVICE))


def _end(review: Review) -> str:
    return clock(review.material.window[1], review.material)


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
            sort="beyond chance",
            title=f"Zone {zone} asked more by phone than others in the phase {phase(phase_id)}",
            words=(
                f"{many(line['k'], 'case')} answered by phone, {plain(line['per_100_calls'], 2)} "
                "per 100 calls; beside the other zones "
                f"{times(ratio, line['low'], line['high'], 'none there')}."
                + (f" Most answered by: {listed(articles)}." if articles else "")
            ),
            sure=sure(p, many(len(lines), "comparison")),
            measure=pointer("hotline", "training", "by_phase_and_zone", name, "per_100_calls"),
            cases=tuple(
                case.id
                for case in review.material.counted
                if case.outcome in ASKED and (case.phase, case.zone) == (phase_id, zone)
            ),
        )
