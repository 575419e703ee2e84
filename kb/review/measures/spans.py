"""How long faults lasted, and the time that several of them cover together."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from kb.review.rows import Case

Span = tuple[datetime, datetime]


def minutes(begin: datetime, end: datetime) -> float:
    """Elapsed minutes between two instants, whatever clocks show."""
    return (end - begin).total_seconds() / 60


def lasted(case: Case, cut_off: datetime) -> float | None:
    """Minutes from the start of a fault until it was restored, else until the cut-off.

    None without a start; negative where the times cannot be.
    """
    start = case.started or case.reported
    if start is None:
        return None
    return ((case.restored or cut_off) - start).total_seconds() / 60


def outage(case: Case, cut_off: datetime, within: Span) -> Span | None:
    """The part of a fault that lies within some hours; None where there is none."""
    start = case.started or case.reported
    if start is None:
        return None
    end = case.restored or cut_off
    if end < start:
        return None
    begin, end = max(start, within[0]), min(end, within[1])
    return (begin, end) if begin < end else None


def union(spans: Iterable[Span]) -> list[Span]:
    """The same time as spans that do not overlap, in order."""
    found: list[Span] = []
    for begin, end in sorted(spans):
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((begin, end))
    return found


def common(one: Iterable[Span], other: Iterable[Span]) -> list[Span]:
    """The time that lies in both."""
    met = ((max(a[0], b[0]), min(a[1], b[1])) for a in one for b in other)
    return union((begin, end) for begin, end in met if begin < end)


def length(spans: Iterable[Span]) -> float:
    """Minutes covered; overlaps count once."""
    return sum(minutes(*span) for span in union(spans))
