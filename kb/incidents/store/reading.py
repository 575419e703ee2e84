"""Questions to the projection, asked over one thread's reading connection."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, TypeVar

from sqlite_utils import Database

from kb.base.clock import parse_instant
from kb.incidents.finding import phone_of, rank, words_of
from kb.incidents.places import Device, Election, Exposure, Place
from kb.incidents.priority import priority
from kb.incidents.rows import Row, row_of, stamp
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


def filtered(database: Database, election: str, wanted: Filter) -> list[Row]:
    """The incidents of an election that a filter lets through."""
    terms, values = ["i.election = ?"], [election]
    for name in _EQUAL:
        value = getattr(wanted, name)
        if name == "rover" and value == NOBODY:
            terms.append("i.rover IS NULL")
        elif value is not None:
            terms.append(f"i.{name} = ?")
            values.append(value)
    if wanted.zone is not None:
        terms.append("p.zone = ?")
        values.append(wanted.zone)
    if wanted.flag is not None:
        terms.append("' ' || i.flags || ' ' LIKE '% ' || ? || ' %'")
        values.append(wanted.flag)
    if wanted.since is not None:
        terms.append("i.first >= ?")
        values.append(stamp(wanted.since))
    words = words_of(wanted.text or "")
    return [row for row in rows(database, " AND ".join(terms), values) if row.holds(words)]


def by_urgency(
    found: list[Row], election: Election | None, places: dict[str, Place], now: datetime
) -> list[Row]:
    """Open ones first by priority, the oldest first; then closed ones, the newest first."""
    ranked = [replace(row, priority=_priority(row, election, places, now)) for row in found]
    still = sorted(
        (row for row in ranked if row.status == "open"),
        key=lambda row: (row.priority, row.first or now, row.number),
    )
    over = sorted(
        (row for row in ranked if row.status != "open"),
        key=lambda row: (row.first or now, row.number),
        reverse=True,
    )
    return still + over


def _priority(row: Row, election: Election | None, places: dict[str, Place], now: datetime) -> int:
    minutes = None
    if election is not None:
        opening = election.opening(places.get(row.place or ""))
        minutes = (opening - now).total_seconds() / 60
    return priority(row, minutes)


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


def marks(database: Database, election: str) -> dict[str, dict[str, Mark]]:
    """The roll call: for each place heard from, the latest mark of each kind."""
    found: dict[str, dict[str, Mark]] = {}
    query = "SELECT place, kind, at, actor, seals FROM marks WHERE election = ? ORDER BY at, event"
    for place, kind, at, actor, seals in database.execute(query, [election]):
        mark = Mark(kind, parse_instant(at), actor, tuple(json.loads(seals)))
        found.setdefault(place, {})[kind] = mark
    return found


def find_places(database: Database, text: str, limit: int) -> list[Place]:
    """Places for what was typed, the nearest first."""
    words = words_of(text)
    if not words:
        return []
    terms = " AND ".join("instr(haystack, ?)" for _ in words)
    values: list[Any] = [*words]
    query = f"SELECT row FROM places WHERE ({terms})"  # noqa: S608 - question marks
    phone = phone_of(text)
    if phone is not None:
        query += " OR instr(phone, ?)"
        values.append(phone)
    query += " OR id IN (SELECT place FROM devices WHERE lower(asset) = ?)"
    found = models(database, Place, query, [*values, text.casefold().strip()])
    return sorted(found, key=lambda place: rank(place, text))[:limit]
