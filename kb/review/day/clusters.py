"""What rises now: clusters of one kind of fault, and what is watched below an alarm.

A cluster begins with an alarm of `alarms.py` and grows with each report that follows the last
within an hour; so people are told once, and see it grow. The watch goes by the office's own
rules (common practice): some faults are grave at two places already, some show up under several
names, and some stay at one large place.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from kb.review.day.alarms import HOUR, LEAST_PLACES, Alarm, Baseline, alarms, comparable
from kb.review.rows import Case

# Symptoms that are watched from the second place on.
GRAVE = {
    "wrong-identity": "wrong place, election or style",
    "wrong-ballot": "wrong ballots",
    "memory-message": "memory",
    "seal-missing": "seals",
    "seal-broken": "seals",
    "clock-wrong": "clocks",
}
# Faults that are one trouble under several names: faint print shows up as given back ballots.
FAMILIES = {
    "faint print and ballots given back": frozenset(
        {
            "ballot-printer|faint",
            "bmd|faint",
            "ballots|faint",
            "scanner|rejects-good",
            "scanner|rejects-many",
        }
    ),
    "poll books and their connection": frozenset(
        {"epollbook|will-not-connect", "network|will-not-connect", "epollbook|frozen"}
    ),
}
GRAVE_PLACES = 2
SAME_PLACE_DEVICES = 3


@dataclass(frozen=True)
class Cluster:
    """One kind that rose: its alarm, its cases so far, their places, and the last report."""

    alarm: Alarm
    cases: tuple[Case, ...]
    last: datetime

    @property
    def places(self) -> tuple[str, ...]:
        """The places, in the order of their ids."""
        return _places(self.cases)

    def growing(self, now: datetime) -> bool:
        """Whether the last report is less than an hour old."""
        return now - self.last < HOUR


@dataclass(frozen=True)
class Watched:
    """What is watched: in words, with its cases and their places."""

    what: str
    cases: tuple[Case, ...]

    @property
    def places(self) -> tuple[str, ...]:
        """The places, in the order of their ids."""
        return _places(self.cases)


def clusters(cases: Iterable[Case], before: Baseline, zone: str, day: date) -> list[Cluster]:
    """All clusters of the day, the newest first; a kind that rises again later is a new one."""
    by_kind: defaultdict[str, list[Case]] = defaultdict(list)
    for case in cases:
        if comparable(case) and case.reported is not None:
            by_kind[case.kind].append(case)
    found: list[Cluster] = []
    for reports in by_kind.values():
        waiting = sorted(reports, key=lambda case: (_at(case), case.id))
        while len(waiting) >= LEAST_PLACES:
            first = alarms(waiting, before, zone, day, guarded=True)
            if not first:
                break
            cluster, waiting = _grown(first[0], waiting)
            found.append(cluster)
    return sorted(found, key=lambda one: (one.alarm.at, one.alarm.kind), reverse=True)


def watched(cases: Iterable[Case], now: datetime) -> list[Watched]:
    """What stands below an alarm and is looked at all the same, by its name.

    Grave symptoms count while unrestored, or reported in the last two hours; families and one
    place's devices within the last hour.
    """
    faults = [case for case in cases if comparable(case) and case.reported is not None]
    recent = [case for case in faults if now - HOUR < _at(case) <= now]
    found = _grave([case for case in faults if case.restored is None or _fresh(case, now)])
    for name, kinds in FAMILIES.items():
        of_it = [case for case in recent if case.kind in kinds]
        # Of one kind alone, it is that kind's own alarm.
        if len({case.place for case in of_it}) >= LEAST_PLACES and len({c.kind for c in of_it}) > 1:
            found.append(Watched(name, _ordered(of_it)))
    return found + _one_place(recent)


def _grave(cases: Sequence[Case]) -> list[Watched]:
    groups: defaultdict[str, list[Case]] = defaultdict(list)
    for case in cases:
        if case.symptom in GRAVE:
            groups[GRAVE[case.symptom]].append(case)
    return [
        Watched(what, _ordered(group))
        for what, group in sorted(groups.items())
        if len({case.place for case in group}) >= GRAVE_PLACES
    ]


def _one_place(recent: Sequence[Case]) -> list[Watched]:
    """Several devices at one place with the same fault."""
    groups: defaultdict[tuple[str, str], list[Case]] = defaultdict(list)
    for case in recent:
        if case.asset is not None:
            groups[str(case.place), case.kind].append(case)
    return [
        Watched("several devices at one place", _ordered(group))
        for _, group in sorted(groups.items())
        if len({case.asset for case in group}) >= SAME_PLACE_DEVICES
    ]


def _grown(alarm: Alarm, reports: Sequence[Case]) -> tuple[Cluster, list[Case]]:
    """The cluster of an alarm, and the reports that come after it is over."""
    last, mine, rest = alarm.at, [], []
    for case in reports:
        at = _at(case)
        if alarm.at - HOUR < at <= last + HOUR:
            mine.append(case)
            last = max(last, at)
        elif at > last:
            rest.append(case)
    return Cluster(alarm, tuple(mine), last), rest


def _places(cases: Iterable[Case]) -> tuple[str, ...]:
    return tuple(sorted({str(case.place) for case in cases}))


def _fresh(case: Case, now: datetime) -> bool:
    return timedelta(0) <= now - _at(case) < 2 * HOUR


def _ordered(cases: Iterable[Case]) -> tuple[Case, ...]:
    return tuple(sorted(cases, key=lambda case: (_at(case), case.id)))


def _at(case: Case) -> datetime:
    if case.reported is None:
        raise ValueError(f"case {case.id} was never reported")  # callers leave such cases out
    return case.reported
