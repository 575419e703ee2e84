"""Counts of cases by what they have in common, in an order that ranks no place."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from kb.review.rows import UNKNOWN, Case

HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Count:
    """One line of a table: cases that count, and how many of them are faults."""

    key: str
    cases: int
    faults: int


def by(cases: Iterable[Case], key: Callable[[Case], str]) -> dict[str, Count]:
    """Counts of the counted cases by a key, in no particular order."""
    counted = [case for case in cases if case.counted]
    total = Counter(key(case) for case in counted)
    faults = Counter(key(case) for case in counted if case.fault)
    return {name: Count(name, number, faults[name]) for name, number in total.items()}


def listed(counts: dict[str, Count], order: Iterable[str]) -> list[Count]:
    """Counts in a given order, with zeros; other keys follow by name, the unknown last."""
    first = list(order)
    rest = sorted(counts.keys() - set(first), key=lambda name: (name == UNKNOWN, name))
    return [counts.get(name, Count(name, 0, 0)) for name in [*first, *rest]]


def by_hour(cases: Sequence[Case], zone: str) -> list[Count]:
    """Counts by local hour of the report, `07:00`, without a gap from the first to the last.

    Two hours of one name (when clocks go back) are two lines. Cases without any time stand in
    a last line of their own.
    """
    wall = ZoneInfo(zone)

    def hour(case: Case) -> datetime | None:
        told = case.reported or case.started
        if told is None:
            return None
        # Whole hours of the wall clock; the offset has whole minutes, so instants stay exact.
        local = told.astimezone(wall)
        return told - timedelta(
            minutes=local.minute, seconds=local.second, microseconds=local.microsecond
        )

    hours = [hour(case) for case in cases]
    known = [at for at in hours if at is not None]
    lines = []
    at = min(known, default=None)
    while at is not None and at <= max(known):
        inside = [case for case, begin in zip(cases, hours, strict=True) if begin == at]
        lines.append(_count(f"{at.astimezone(wall):%H:%M}", inside))
        at += HOUR
    without = [case for case, begin in zip(cases, hours, strict=True) if begin is None]
    return lines + ([_count(UNKNOWN, without)] if without else [])


def _count(key: str, cases: Sequence[Case]) -> Count:
    counted = [case for case in cases if case.counted]
    return Count(key, len(counted), sum(case.fault for case in counted))
