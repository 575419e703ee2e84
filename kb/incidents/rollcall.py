"""The roll call: which places have not been heard from, and which have not handed in.

By the clock of each place: from an hour before it opens it should have said that it is ready;
from its opening time that it is open; an hour after it closed that it is closed; later that its
materials have left and were received. A later answer stands for the earlier ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from kb.incidents.kinds import MARKS
from kb.incidents.places import Election, Place

# What a place is marked as by each answer.
ANSWERS = {
    "place.ready": "ready",
    "place.opened": "open",
    "place.closed": "closed",
    "materials.left": "materials have left",
    "materials.received": "handed in",
}
# Less than a minute is nobody's late opening.
MINUTE = timedelta(minutes=1)
BEFORE_OPENING = timedelta(minutes=60)
# How long after closing each answer is awaited: common practice, the office may ask sooner.
AFTER_CLOSING = {
    "place.closed": timedelta(minutes=60),
    "materials.left": timedelta(minutes=120),
    "materials.received": timedelta(minutes=180),
}


@dataclass(frozen=True)
class Silent:
    """A place that should have answered: with what, and since when."""

    place: Place
    kind: str
    since: datetime


@dataclass(frozen=True)
class LateOpening:
    """A place that opened after its time, or has not opened yet (`opened` is None)."""

    place: Place
    due: datetime
    opened: datetime | None


def expected(election: Election, place: Place, now: datetime) -> tuple[str, datetime] | None:
    """What a place should have answered by now, and since when; None before the roll call."""
    passed = [(kind, at) for kind, at in _due(election, place) if at <= now]
    return passed[-1] if passed else None


def _due(election: Election, place: Place) -> list[tuple[str, datetime]]:
    """What a place answers, and from when on it should have, in order."""
    opening, closing = election.opening(place), election.closing(place)
    due = [("place.ready", opening - BEFORE_OPENING), ("place.opened", opening)]
    return due + [(kind, closing + wait) for kind, wait in AFTER_CLOSING.items()]


def silent(
    election: Election, places: Iterable[Place], heard: Mapping[str, Iterable[str]], now: datetime
) -> list[Silent]:
    """The places that have not answered, the longest overdue first.

    `heard`: the kinds of marks of each place.
    """
    found = []
    # Thousands of places keep a few different hours.
    by_hours: dict[object, tuple[str, datetime] | None] = {}
    for place in places:
        own = (place.opens, place.closes)
        if own not in by_hours:
            by_hours[own] = expected(election, place, now)
        due = by_hours[own]
        if due is None:
            continue
        kind, since = due
        answered = {MARKS.index(mark) for mark in heard.get(place.id, ())}
        if not any(at >= MARKS.index(kind) for at in answered):
            found.append(Silent(place, kind, since))
    return sorted(found, key=lambda one: (one.since, one.place.id))


def late_openings(
    election: Election, places: Iterable[Place], opened: Mapping[str, datetime], now: datetime
) -> list[LateOpening]:
    """Places that opened a minute or more late, or should be open and have not said so.

    Those that are not open yet first.
    """
    found = []
    by_hours: dict[object, tuple[datetime, datetime]] = {}
    for place in places:
        own = (place.opens, place.closes)
        if own not in by_hours:
            by_hours[own] = (election.opening(place), election.closing(place))
        (due, closing), at = by_hours[own], opened.get(place.id)
        if (at is not None and at >= due + MINUTE) or (at is None and due < now < closing):
            found.append(LateOpening(place, due, at))
    return sorted(found, key=lambda one: (one.opened is not None, one.due, one.place.id))


def next_answer(
    election: Election, place: Place, heard: Iterable[str], now: datetime
) -> tuple[str, str] | None:
    """What a place may answer next beside other work, and the word for it; None before its time.

    Nobody is offered "closed" in mid-day, where a slip of the finger would close a place.
    """
    kind = next_kind(heard)
    opening, closing = election.opening(place), election.closing(place)
    begins = {"place.ready": now, "place.opened": opening - BEFORE_OPENING}
    return (kind, ANSWERS[kind]) if kind and begins.get(kind, closing) <= now else None


def next_kind(heard: Iterable[str]) -> str | None:
    """What a place answers next; None where it has handed in."""
    last = max((MARKS.index(kind) for kind in heard), default=-1)
    return MARKS[last + 1] if last + 1 < len(MARKS) else None
