"""The same fault elsewhere: when several places report one kind of fault faster than usual.

Reports of one kind (equipment and symptom) from distinct places within an hour, against the
mean of earlier elections: an alarm when three or more places report and so many would come by
chance in at most one hour of a thousand (Poisson). Peaks of the day raise the mean, quiet hours
do not lower it.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, defaultdict, deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from scipy.special import betainc, gammainc

from kb.review.rows import DAY_WINDOW, UNKNOWN, Case

HOUR = timedelta(minutes=60)
LEAST_PLACES = 3
RAREST = 0.001
A_DAY = 0.05
# Without earlier elections: one such report in four hours. Said wherever it is used.
DEFAULT_MEAN = 0.25
Window = tuple[time, time]


@dataclass(frozen=True)
class Baseline:
    """How often each kind was reported before, and at which times of day.

    `reports`: faults of the earlier elections inside the day window, by kind; `minutes`: the
    local minutes of the day of all of them; `elections`: how many earlier ones there are.
    """

    reports: dict[str, int] = field(default_factory=dict)
    minutes: tuple[float, ...] = ()
    elections: int = 0
    window: Window = DAY_WINDOW

    @property
    def hours(self) -> float:
        """The hours of the day window."""
        begin, end = _span(self.window)
        return (end - begin) / 60

    def mean(self, kind: str, minute: float) -> float:
        """The mean number of reports an hour of this kind at a local minute of the day."""
        if not self.elections:
            return DEFAULT_MEAN
        total = self.hours * self.elections
        flat = (self.reports.get(kind, 0) + 0.5) / total
        return flat * max(1.0, self._peak(minute, total))

    def by_chance(self, kind: str, minute: float, places: int) -> float:
        """The chance that so many places report within an hour, the rate itself being uncertain.

        The rate is known from K reports in the hours of the earlier elections, T; with the prior
        of Jeffreys the number of an hour that is s times as busy is negative binomial, and
        P(N >= k) = I_q(k, K + 1/2), q = s / (T + s) (regularised incomplete beta; Gelman et al.,
        Bayesian Data Analysis, 3rd ed., section 2.6). s is the greater of the two hours around
        and of the very hour, never below 1.
        """
        if not self.elections:
            return tail(places, DEFAULT_MEAN)
        total = self.hours * self.elections
        busy = max(1.0, self._peak(minute, total), self._peak(minute, total, around=30))
        known = self.reports.get(kind, 0) + 0.5
        return float(betainc(places, known, busy / (total + busy)))

    @property
    def looks(self) -> float:
        """How often a day is looked at, as it were: each kind, each quarter of an hour."""
        return 4 * self.hours * (len(self.reports) + 1)

    def _peak(self, minute: float, total: float, around: float = 60) -> float:
        """How much busier this time of the day is than the day on average."""
        begin, end = _span(self.window)
        centre = minute - 30
        low, high = max(begin, centre - around), min(end, centre + around)
        if high <= low or not self.minutes:
            return 1.0
        inside = bisect_left(self.minutes, high) - bisect_left(self.minutes, low)
        if not inside:
            return 1.0
        return (inside / ((high - low) / 60 * self.elections)) / (len(self.minutes) / total)


@dataclass(frozen=True)
class Alarm:
    """One kind that rose: when first, at how many places, against which mean, how rare.

    `places` are those of the hour of the alarm.
    """

    kind: str
    at: datetime
    places: tuple[str, ...]
    mean: float
    chance: float


def baseline(
    earlier: Sequence[tuple[date, Iterable[Case]]], zone: str, window: Window = DAY_WINDOW
) -> Baseline:
    """The baseline of earlier elections: each its voting day, and its cases."""
    reports: defaultdict[str, int] = defaultdict(int)
    minutes: list[float] = []
    begin, end = _span(window)
    wall = ZoneInfo(zone)
    for day, cases in earlier:
        for case in cases:
            at = case.reported
            if at is None or not comparable(case):
                continue
            minute = _minute(at, wall, day)
            if begin <= minute < end:
                reports[case.kind] += 1
                minutes.append(minute)
    return Baseline(dict(reports), tuple(sorted(minutes)), len(earlier), window)


def alarms(
    cases: Iterable[Case], before: Baseline, zone: str, day: date, *, guarded: bool = False
) -> list[Alarm]:
    """The first alarm of each kind, in the order in which they come.

    `guarded`, as people are told of them on the day: only those that come by chance on at most
    one day in twenty, all looks of the day together (Bonferroni), the rate being uncertain. One
    in a thousand for each look by itself would be a false alarm on many a quiet day.
    """
    reports = sorted(
        ((case.reported, case) for case in cases if comparable(case) and case.reported),
        key=lambda one: (one[0], one[1].id),
    )
    wall = ZoneInfo(zone)
    recent: defaultdict[str, deque[tuple[datetime, str]]] = defaultdict(deque)
    standing: defaultdict[str, Counter[str]] = defaultdict(Counter)
    found: dict[str, Alarm] = {}
    for at, case in reports:
        kind = case.kind
        if kind in found:
            continue
        window, places = recent[kind], standing[kind]
        window.append((at, str(case.place)))
        places[str(case.place)] += 1
        while window[0][0] <= at - HOUR:
            _, gone = window.popleft()
            places[gone] -= 1
            if not places[gone]:
                del places[gone]
        if len(places) < LEAST_PLACES:
            continue
        minute = _minute(at, wall, day)
        mean = before.mean(kind, minute)
        if guarded:
            chance = before.by_chance(kind, minute, len(places))
            enough = min(RAREST, A_DAY / before.looks)
        else:
            chance, enough = tail(len(places), mean), RAREST
        if chance <= enough:
            found[kind] = Alarm(kind, at, tuple(sorted(places)), mean, chance)
    return list(found.values())


def tail(least: int, mean: float) -> float:
    """P(X >= least) of a Poisson mean, by the incomplete gamma function."""
    return float(gammainc(least, mean)) if least > 0 else 1.0


def comparable(case: Case) -> bool:
    """Whether a case can be held against others: a fault with place, class and symptom."""
    return case.fault and case.place is not None and UNKNOWN not in {case.equipment, case.symptom}


def _minute(at: datetime, wall: ZoneInfo, day: date) -> float:
    """The local clock's minute, counted from the voting day's midnight; over 1440 after it."""
    local = at.astimezone(wall)
    days = local.toordinal() - day.toordinal()
    return days * 1440 + local.hour * 60 + local.minute + local.second / 60


def _span(window: Window) -> tuple[float, float]:
    """Begin and end of a day window in minutes; past midnight where it ends before it begins."""
    begin, end = (one.hour * 60 + one.minute for one in window)
    return begin, end if end > begin else end + 1440
