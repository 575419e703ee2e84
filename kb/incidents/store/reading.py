"""Questions to the projection, asked over one thread's reading connection."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time
from typing import Any, TypeVar

from sqlite_utils import Database

from kb.base.clock import parse_instant
from kb.incidents.finding import phone_of, words_of
from kb.incidents.places import Device, Election, Exposure, Place
from kb.incidents.priority import priority
from kb.incidents.rows import Row, row_of
from kb.incidents.values import Body

Kind = TypeVar("Kind", bound=Body)


@dataclass(frozen=True)
class Mark:
    """One answer of a place to the roll call: when, by whom, with which seals."""

    kind: str
    at: datetime
    actor: str
    seals: tuple[str, ...]


@dataclass(frozen=True)
class Filter:
    """What a list of incidents shows; None means any. `text` is looked for in words and notes."""

    place: str | None = None
    zone: str | None = None
    equipment: str | None = None
    phase: str | None = None
    symptom: str | None = None
    effect: str | None = None
    flag: str | None = None
    status: str | None = None
    rover: str | None = None
    outcome: str | None = None
    parent: str | None = None
    text: str | None = None
    since: datetime | None = None


_ROWS = (
    "SELECT i.*, p.name AS place_name, p.zone AS zone "
    "FROM incidents i LEFT JOIN places p ON p.id = i.place"
)
_EQUAL = (
    "place",
    "zone",
    "equipment",
    "phase",
    "symptom",
    "effect",
    "status",
    "rover",
    "outcome",
    "parent",
)
# Instead of a rover's login: nobody was sent.
NOBODY = "none"


def rows(database: Database, where: str, values: Sequence[str | int]) -> list[Row]:
    """Rows with the name and zone of their place."""
    query = f"{_ROWS} WHERE {where}"
    return [row_of(columns) for columns in database.query(query, values)]


def fitting(found: Iterable[Row], wanted: Filter) -> list[Row]:
    """The incidents that a filter lets through."""
    equal = [(name, value) for name in _EQUAL if (value := getattr(wanted, name)) is not None]
    words = words_of(wanted.text or "")
    return [
        row
        for row in found
        if all(_equals(row, name, value) for name, value in equal)
        and (wanted.flag is None or wanted.flag in row.flags)
        and (wanted.since is None or (row.first is not None and row.first >= wanted.since))
        and row.holds(words)
    ]


def _equals(row: Row, name: str, value: str) -> bool:
    if name == "rover" and value == NOBODY:
        return row.rover is None
    return bool(getattr(row, name) == value)


def by_urgency(
    found: Iterable[Row], election: Election | None, places: Mapping[str, Place], now: datetime
) -> list[Row]:
    """Open ones first by priority, the oldest first; then closed ones, the newest first.

    A closed case has no priority any more.
    """
    minutes = _Minutes(election, places, now)
    still, over = [], []
    for row in found:
        if row.status != "open":
            over.append(row)
            continue
        urgency = priority(row, minutes.to_opening(row.place))
        still.append(row if urgency == row.priority else replace(row, priority=urgency))
    still.sort(key=lambda row: (row.priority, row.first or now, row.number))
    over.sort(key=lambda row: (row.first or now, row.number), reverse=True)
    return still + over


class _Minutes:
    """Minutes to the opening of each place; most places open at the same time."""

    def __init__(
        self, election: Election | None, places: Mapping[str, Place], now: datetime
    ) -> None:
        self._election, self._places, self._now = election, places, now
        self._known: dict[time | None, float] = {}

    def to_opening(self, place: str | None) -> float | None:
        """Negative once it is past; None where no election is known."""
        if self._election is None:
            return None
        found = self._places.get(place or "")
        opens = found.opens if found else None
        if opens not in self._known:
            opening = self._election.opening(found)
            self._known[opens] = (opening - self._now).total_seconds() / 60
        return self._known[opens]


def models(database: Database, kind: type[Kind], query: str, values: Sequence[str]) -> list[Kind]:
    """Typed rows out of a query whose only column is their JSON."""
    return [kind.model_validate_json(text) for (text,) in database.execute(query, values)]


def elections(database: Database) -> list[Election]:
    """All elections, by date."""
    found = models(database, Election, "SELECT row FROM elections", [])
    return sorted(found, key=lambda election: (election.date, election.id))


def places(database: Database) -> list[Place]:
    """All places, by id."""
    return models(database, Place, "SELECT row FROM places ORDER BY id", [])


def devices(database: Database, place: str | None) -> list[Device]:
    """Devices by asset: all, or those of a place."""
    if place is None:
        query = "SELECT row FROM devices ORDER BY asset"
        return models(database, Device, query, [])
    query = "SELECT row FROM devices WHERE place = ? ORDER BY asset"
    return models(database, Device, query, [place])


def exposures(database: Database, election: str) -> list[Exposure]:
    """The turnout of an election, by place and date."""
    query = "SELECT row FROM exposures WHERE election = ? ORDER BY place, date"
    return models(database, Exposure, query, [election])


def marks(
    database: Database, election: str, place: str | None = None
) -> dict[str, dict[str, Mark]]:
    """The roll call: for each place heard from (or for one), the latest mark of each kind."""
    found: dict[str, dict[str, Mark]] = {}
    where, values = "election = ?", [election]
    if place is not None:
        where, values = f"{where} AND place = ?", [election, place]
    query = f"SELECT place, kind, at, actor, seals FROM marks WHERE {where} ORDER BY at, event"  # noqa: S608 - constants
    for of, kind, at, actor, seals in database.execute(query, values):
        mark = Mark(kind, parse_instant(at), actor, tuple(json.loads(seals)))
        found.setdefault(of, {})[kind] = mark
    return found


def find_places(database: Database, text: str) -> set[str]:
    """The ids of the places that what was typed could mean."""
    words = words_of(text)
    if not words:
        return set()
    terms = " AND ".join("instr(haystack, ?)" for _ in words)
    values: list[Any] = [*words]
    query = f"SELECT id FROM places WHERE ({terms})"  # noqa: S608 - question marks
    phone = phone_of(text)
    if phone is not None:
        query += " OR instr(phone, ?)"
        values.append(phone)
    query += " OR id IN (SELECT place FROM devices WHERE lower(asset) = ?)"
    return {one for (one,) in database.execute(query, [*values, text.casefold().strip()])}
