"""What a review looks at: the cases of one election, its places, devices and turnout, plainly.

The words used here mean the same in every figure, table and report:

counted     not marked as the same case as another
fault       a counted case that did something to voting; an unknown effect counts as a fault
start       when the trouble began; where that is not known, when it was reported
deployed    a device that stands at a place and is no spare
usable      a place whose ballots are known and more than none
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple
from zoneinfo import ZoneInfo

from kb.incidents.openings import Opened
from kb.incidents.places import Device, Election, Place
from kb.incidents.rows import Row

UNKNOWN = "(unknown)"
# The hours of a voting day that a review looks at where the election says nothing else.
DAY_WINDOW = (time(6), time(22))
HALF_HOUR = timedelta(minutes=30)
DUPLICATE = "duplicate"


class Case(NamedTuple):
    """One incident. Equipment, symptom, phase and effect are "(unknown)" where not told.

    `id` is what files call it; `effect` the worst that it ever did to voting; `zone` that of its
    place, None without a place.
    """

    id: str
    place: str | None
    zone: str | None
    asset: str | None
    equipment: str
    symptom: str
    phase: str
    effect: str
    flags: str
    outcome: str | None
    article: str | None
    started: datetime | None
    reported: datetime | None
    dispatched: datetime | None
    arrived: datetime | None
    restored: datetime | None

    @property
    def counted(self) -> bool:
        """Whether it enters any count: not when marked as the same case as another."""
        return self.outcome != DUPLICATE

    @property
    def fault(self) -> bool:
        """A counted case that did something to voting; an unknown effect counts as a fault."""
        return self.outcome != DUPLICATE and self.effect != "none"

    @property
    def start(self) -> datetime | None:
        """When the trouble began, else when it was reported."""
        return self.started or self.reported

    @property
    def kind(self) -> str:
        """Class and symptom, `equipment|symptom`."""
        return f"{self.equipment}|{self.symptom}"


class Call(NamedTuple):
    """One call at the hotline; without `answered` the caller gave up."""

    id: str
    place: str | None
    started: datetime
    answered: datetime | None
    ended: datetime | None
    incident: str | None

    @property
    def inconsistent(self) -> bool:
        """Whether its times cannot be: answered before it rang, ended before either."""
        times = [at for at in (self.started, self.answered, self.ended) if at is not None]
        return any(later < earlier for earlier, later in pairwise(times))


@dataclass(frozen=True)
class Turnout:
    """What one place took in, and when it opened; None where it is not known."""

    ballots: int | None
    sheets: int | None
    checkins: int | None
    opened: datetime | None


@dataclass(frozen=True)
class Material:
    """All that a review of one election reads. Places, devices as they stood at its cut-off.

    By the case's id, `openings`: what was opened; `ends`: where the last walk through a tree
    stood, as `tree/step`.
    """

    election: Election
    cases: tuple[Case, ...]
    places: Mapping[str, Place]
    devices: tuple[Device, ...]
    turnout: Mapping[str, Turnout]
    calls: tuple[Call, ...] = ()
    openings: Mapping[str, tuple[Opened, ...]] = field(default_factory=dict)
    ends: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def counted(self) -> tuple[Case, ...]:
        """The cases that enter counts."""
        return tuple(case for case in self.cases if case.counted)

    @cached_property
    def faults(self) -> tuple[Case, ...]:
        """The faults, wherever they were."""
        return tuple(case for case in self.cases if case.fault)

    @cached_property
    def deployed(self) -> tuple[Device, ...]:
        """Devices at a place that are no spares."""
        return tuple(one for one in self.devices if one.place is not None and not one.spare)

    @cached_property
    def deployed_count(self) -> Counter[str]:
        """How many devices of each class are deployed."""
        return Counter(device.equipment for device in self.deployed)

    @cached_property
    def ballots(self) -> dict[str, int]:
        """Ballots by usable place, in the order of their ids."""
        known = {place: one.ballots for place, one in sorted(self.turnout.items()) if one.ballots}
        return {place: ballots for place, ballots in known.items() if place in self.places}

    @cached_property
    def window(self) -> tuple[datetime, datetime]:
        """The first and the last instant of the day that is looked at."""
        begin, end = self.window_clock
        day = self.election.date
        return self.at(day, begin), self.at(day + timedelta(days=end <= begin), end)

    @property
    def window_clock(self) -> tuple[time, time]:
        """The same on the county's clock; past midnight where it ends before it begins."""
        of = self.election
        return of.day_from or DAY_WINDOW[0], of.day_until or DAY_WINDOW[1]

    @cached_property
    def cut_off(self) -> datetime:
        """The instant at which the record is taken as complete: the end of the day's window.

        An election may name another: an instant, or a time of day (of the next day where it is
        not after the window's beginning).
        """
        told = self.election.cut_off
        if isinstance(told, datetime):
            return told
        if told is None:
            return self.window[1]
        next_day = told <= self.window_clock[0]
        return self.at(self.election.date + timedelta(days=next_day), told)

    def until(self, at: datetime) -> Material:
        """The same, complete up to an instant and no further: the day is not over."""
        cut_off = {"cut_off": at.astimezone(UTC)}
        return replace(self, election=self.election.model_copy(update=cut_off))

    @cached_property
    def half_hours(self) -> list[tuple[str, datetime]]:
        """Name and beginning of each half hour of the window, on the county's clock.

        Each is thirty minutes long, so where clocks go back an hour has two halves more; the
        second of one name carries its offset from UTC.
        """
        begin, end = self.window
        found: dict[str, datetime] = {}
        while begin < end:
            local = begin.astimezone(self.zone)
            name = f"{local:%H:%M}"
            found[name if name not in found else f"{name}{local:%z}"] = begin
            begin = (begin.astimezone(_UTC) + HALF_HOUR).astimezone(self.zone)
        return list(found.items())

    @cached_property
    def zone(self) -> ZoneInfo:
        """The county's time zone."""
        return ZoneInfo(self.election.time_zone)

    def at(self, day: date, clock: time) -> datetime:
        """The instant at which the county's clock shows this on a day."""
        return datetime.combine(day, clock, self.zone)

    def voting_hours(self, place: str) -> tuple[datetime, datetime]:
        """The scheduled opening and closing of a place, as instants."""
        return self._hours[place]

    @cached_property
    def _hours(self) -> dict[str, tuple[datetime, datetime]]:
        # Most places share their hours, and a zone's rules take time to look up.
        known: dict[tuple[time | None, time | None], tuple[datetime, datetime]] = {}
        found = {}
        for place in self.places.values():
            clocks = (place.opens, place.closes)
            if clocks not in known:
                opening, closing = self.election.opening(place), self.election.closing(place)
                known[clocks] = (opening.astimezone(_UTC), closing.astimezone(_UTC))
            found[place.id] = known[clocks]
        return found

    def zone_of(self, place: str) -> str:
        """The zone of a place."""
        return self.places[place].zone or UNKNOWN


_UTC = ZoneInfo("UTC")


def bare(election: Election) -> Material:
    """An election before anything of it is read: what its days and hours are."""
    return Material(election, (), {}, (), {})


def case_of(row: Row, places: Mapping[str, Place]) -> Case:
    """One row of a list in the review's terms."""
    place = places.get(row.place) if row.place else None
    return Case(
        id=row.id,
        place=row.place,
        zone=(place.zone or UNKNOWN) if place else None,
        asset=row.asset,
        equipment=row.equipment or UNKNOWN,
        symptom=row.symptom or UNKNOWN,
        phase=row.phase or UNKNOWN,
        effect=row.worst_effect or row.effect or UNKNOWN,
        flags=" ".join(sorted(row.flags)),
        outcome=DUPLICATE if row.duplicate_of and not row.imported else row.outcome,
        article=row.article,
        started=row.started,
        reported=row.reported,
        dispatched=row.dispatched,
        arrived=row.arrived,
        restored=row.restored,
    )
