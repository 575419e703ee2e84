"""The hotline: calls by half hour, how soon they were answered, and the seats they asked for.

Seats by Erlang's waiting formula (Erlang C, 1917): the fewest with which 80 % of callers would
wait no more than 20 seconds. What was seen stands beside it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import exp, floor
from typing import Any

from kb.base.queueing import erlang_c
from kb.review.measures.shares import clopper_pearson
from kb.review.rows import Call, Material

WITHIN, LEVEL = 20.0, 0.80
FEW_CALLS = 5
SECONDS = 1800


def level(load: float, seats: int, handling: float) -> float:
    """The share of callers answered within 20 s; `load` in erlangs, `handling` in seconds."""
    if load >= seats:
        return 0.0
    return 1 - erlang_c(load, seats) * exp(-(seats - load) * WITHIN / handling)


def seats_for(offered: int, handling: float | None) -> tuple[int | None, float | None]:
    """Seats for the calls of a half hour, and the level they give; 0 seats for no call."""
    if offered == 0:
        return 0, None
    if not handling:
        return None, None
    load = offered / SECONDS * handling
    seats = floor(load) + 1
    while level(load, seats, handling) < LEVEL:
        seats += 1
    return seats, level(load, seats, handling)


@dataclass
class Half:
    """The calls of some time: all, those whose times can be, of these answered in 20 seconds."""

    calls: list[Call]

    @cached_property
    def known(self) -> list[Call]:
        """Those whose times can be."""
        return [call for call in self.calls if not call.inconsistent]

    @cached_property
    def in_time(self) -> list[bool]:
        """Whether each was answered in time, in the order in which they came."""
        return [
            call.answered is not None and (call.answered - call.started).total_seconds() <= WITHIN
            for call in sorted(self.known, key=lambda call: (call.started, call.id))
        ]

    @cached_property
    def soon(self) -> int:
        """How many of the known were answered in time."""
        return sum(self.in_time)

    @property
    def observed(self) -> float | None:
        """The service level that was seen; None without a known call."""
        return self.soon / len(self.known) if self.known else None

    @property
    def understaffed(self) -> bool:
        """Whether enough called to say so, and too few were answered in time."""
        seen = self.observed
        return len(self.calls) >= FEW_CALLS and seen is not None and seen < LEVEL

    @property
    def surely(self) -> bool:
        """Whether even the upper 95 % limit of what was seen is below the level."""
        return self.understaffed and clopper_pearson(self.soon, len(self.known))[1] < LEVEL


def by_half_hour(material: Material) -> dict[str, Half]:
    """The calls of each half hour of the day's window."""
    names = [name for name, _ in material.half_hours]
    begins = [begin for _, begin in material.half_hours]
    halves = {name: Half([]) for name in names}
    for call in material.calls:
        if begins and begins[0] <= call.started < material.window[1]:
            halves[names[bisect_right(begins, call.started) - 1]].calls.append(call)
    return halves


def hotline(material: Material) -> dict[str, Any]:
    """Calls within the day's window; lengths, waits and what cannot be, of all calls."""
    halves = by_half_hour(material)
    calls = [call for half in halves.values() for call in half.calls]
    known = [call for call in material.calls if not call.inconsistent]
    handling = _mean(
        [
            (call.ended - call.answered).total_seconds()
            for call in known
            if call.answered and call.ended
        ]
    )
    lines = {name: _line(half, handling) for name, half in halves.items()}
    every = Half(calls)
    return {
        "offered": len(calls),
        "answered": sum(call.answered is not None for call in calls),
        "abandoned": sum(call.answered is None for call in calls),
        "inconsistent": sorted(call.id for call in material.calls if call.inconsistent),
        "without_end": sorted(
            call.id for call in material.calls if call.answered and not call.ended
        ),
        "aht_seconds": handling,
        "mean_wait_seconds": _mean(
            [(call.answered - call.started).total_seconds() for call in known if call.answered]
        ),
        "service_level": every.observed,
        "half_hours": lines,
        "understaffed": [name for name, half in halves.items() if half.understaffed],
        "surely_understaffed": [name for name, half in halves.items() if half.surely],
        "in_time_correlation": _correlation([half.in_time for half in halves.values()]),
        "peak_seats": max((line["seats"] or 0 for line in lines.values()), default=0),
    }


def _line(half: Half, handling: float | None) -> dict[str, Any]:
    seats, modelled = seats_for(len(half.calls), handling)
    return {
        "offered": len(half.calls),
        "abandoned": sum(call.answered is None for call in half.calls),
        "observed": half.observed,
        "seats": seats,
        "modelled": modelled,
    }


def _correlation(halves: Sequence[Sequence[bool]]) -> float:
    """How alike neighbouring calls fare, beyond their half hour's mean: 0 apart, 1 all together.

    Callers who wait, wait together: so many calls say less than so many that are independent.
    """
    together = squares = 0.0
    for half in halves:
        if len(half) < FEW_CALLS:
            continue
        mean = sum(half) / len(half)
        off = [one - mean for one in half]
        together += sum(one * other for one, other in pairwise(off))
        squares += sum(one * one for one in off)
    return max(0.0, together / squares) if squares else 0.0


def _mean(values: Sequence[float]) -> float | None:
    return sum(values) / len(values) if values else None
