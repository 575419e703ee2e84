"""Elections, places, devices and turnout: the rows of the county's files, typed.

Each is at the same time the body of the event that records it (`place.recorded` and so on),
so a place that changes is a new event, and how it stood earlier is never lost.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, time, timedelta
from typing import Annotated
from zoneinfo import ZoneInfo

from pydantic import Field

from kb.incidents.values import (
    Body,
    Cause,
    Clock,
    Confidence,
    Count,
    Day,
    Effect,
    Flags,
    Identifier,
    Instant,
    Line,
    Outcome,
    Phase,
    Symptom,
    Text,
    Zone,
)

FIRST_WORKERS = time(4, 30)
# Materials of a long night come in until the next noon at the latest.
LAST_MATERIALS = time(12, 0)


class Election(Body):
    """A row of elections.csv; times are local, and a close not after the opening is next day."""

    election: Identifier
    name: Line
    date: Day
    time_zone: Zone
    opens: Clock
    closes: Clock
    day_from: Clock | None = None
    day_until: Clock | None = None
    cut_off: Instant | Clock | None = None

    @property
    def id(self) -> str:
        """The election's id."""
        return self.election

    def opening(self, place: Place | None = None) -> datetime:
        """The instant at which the place (or the election) is to open."""
        return self._at((place.opens if place else None) or self.opens)

    def closing(self, place: Place | None = None) -> datetime:
        """The instant at which the place (or the election) is to close."""
        opens = (place.opens if place else None) or self.opens
        closes = (place.closes if place else None) or self.closes
        return self._at(closes, next_day=closes <= opens)

    def window(self) -> tuple[datetime, datetime]:
        """First and last instant of the day's work, past midnight where need be."""
        begin = self.day_from or FIRST_WORKERS
        end = self.day_until or LAST_MATERIALS
        return self._at(begin), self._at(end, next_day=self.day_until is None or end <= begin)

    def _at(self, clock: time, *, next_day: bool = False) -> datetime:
        day = self.date + timedelta(days=1) if next_day else self.date
        return datetime.combine(day, clock, ZoneInfo(self.time_zone))


class Place(Body):
    """A row of places.csv; opens and closes are the election's where they are not given."""

    place: Identifier
    name: Line
    address: Line = ""
    latitude: Annotated[float, Field(ge=-90, le=90)] | None = None
    longitude: Annotated[float, Field(ge=-180, le=180)] | None = None
    zone: Line = ""
    phone: Line = ""
    opens: Clock | None = None
    closes: Clock | None = None
    precincts: tuple[Identifier, ...] = ()
    registered: Count | None = None
    expected_voters: Count | None = None
    groups: tuple[Identifier, ...] = ()

    @property
    def id(self) -> str:
        """The place's id."""
        return self.place


class Device(Body):
    """A row of equipment.csv; without a place it is in store."""

    asset: Identifier
    equipment: Identifier
    model: Line = ""
    batch: Line = ""
    place: Identifier | None = None
    spare: bool = False
    seals: tuple[Identifier, ...] = ()
    public_counter: Count | None = None
    protective_counter: Count | None = None
    firmware: Line = ""
    tested_on: Day | None = None
    test_result: Line = ""
    serviced_on: Day | None = None
    part_of: Identifier | None = None
    route: Line = ""


class Exposure(Body):
    """A row of exposure.csv (shown as turnout): one place and voting day."""

    place: Identifier
    date: Day
    opened_at: Instant | None = None
    closed_at: Instant | None = None
    ballots: Count | None = None
    sheets: Count | None = None
    checkins: Count | None = None


class Person(Body):
    """A row of people.csv as the record keeps it; the account itself lives elsewhere."""

    login: Identifier
    name: Line
    role: tuple[Identifier, ...] = ()
    zone: Line = ""
    phone: Line = ""


class ImportedIncident(Body):
    """A row of incidents.csv: a case of an earlier election or of a paper log."""

    incident: Identifier
    place: Identifier | None = None
    asset: Identifier | None = None
    equipment: Identifier | None = None
    symptom: Symptom | None = None
    phase: Phase | None = None
    effect: Effect | None = None
    flags: Flags = ()
    started_at: Instant | None = None
    reported_at: Instant | None = None
    dispatched_at: Instant | None = None
    arrived_at: Instant | None = None
    restored_at: Instant | None = None
    outcome: Outcome | None = None
    cause: Cause | None = None
    article: Identifier | None = None
    ballots_affected: Count | None = None
    voters_affected: Count | None = None
    caller_words: Text | None = None
    note: Text | None = None
    duplicate_of: Identifier | None = None
    cause_confidence: Confidence | None = None


class CallRow(Body):
    """A row of calls.csv; without `answered_at` the caller gave up."""

    call: Identifier
    place: Identifier | None = None
    started_at: Instant
    answered_at: Instant | None = None
    ended_at: Instant | None = None
    incident: Identifier | None = None


class Shift(Body):
    """A row of shifts.csv: one person on duty at the telephone."""

    person: Identifier
    starts_at: Instant
    ends_at: Instant


def current(elections: Iterable[Election], now: datetime) -> Election | None:
    """Find the election whose day it is, else the nearest; of two as near, the coming one."""

    def distance(election: Election) -> tuple[timedelta, bool, str]:
        begin, end = election.window()
        if begin <= now <= end:
            return timedelta(0), False, election.id
        return min(abs(begin - now), abs(now - end)), begin < now, election.id

    return min(elections, key=distance, default=None)
