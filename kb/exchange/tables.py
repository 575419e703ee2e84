"""The county's tables: which columns each has, and what may stand in them.

One table here is all that a new kind of file needs to be read and checked: header, types,
ids, duplicates and line numbers come with it. What is done with the rows stands in `store`.
"""

from __future__ import annotations

from dataclasses import dataclass

from kb.exchange import cells
from kb.exchange.cells import Reader
from kb.incidents.lists import CAUSES, CONFIDENCES, EFFECTS, FLAGS, OUTCOMES, PHASES, SYMPTOMS
from kb.people.roles import ROLES


@dataclass(frozen=True)
class Column:
    """One column: how a cell is read, and what must hold for it.

    `must`: no cell may be empty. `may_miss`: the whole column may be missing.
    `of`: the cell names an id of this kind ("place", "asset", "equipment", "incident", "person").
    `kept`: an unknown id of that kind is kept, with a warning.
    """

    name: str
    read: Reader = cells.text
    must: bool = False
    may_miss: bool = False
    of: str = ""
    kept: bool = False


@dataclass(frozen=True)
class Table:
    """One kind of file. `key`: the columns that together name a row, once a file.

    `ids`: the kind of id that the first key column gives out, for columns that refer to rows
    of their own file. `of_election`: the rows belong to one election, named beside the file.
    """

    kind: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    ids: str = ""
    of_election: bool = False


def _reference(name: str, of: str, *, kept: bool = False, may_miss: bool = False) -> Column:
    return Column(name, _optional_id, of=of, kept=kept, may_miss=may_miss)


def _optional_id(cell: str) -> str | None:
    return cells.identifier(cell) if cell else None


def _times(*names: str) -> tuple[Column, ...]:
    return tuple(Column(name, cells.instant) for name in names)


def _counts(*names: str) -> tuple[Column, ...]:
    return tuple(Column(name, cells.whole) for name in names)


ELECTIONS = Table(
    "elections",
    ("election",),
    (
        Column("election", cells.identifier, must=True),
        Column("name", must=True),
        Column("date", cells.day, must=True),
        Column("time_zone", cells.time_zone, must=True),
        Column("opens", cells.clock, must=True),
        Column("closes", cells.clock, must=True),
        Column("day_from", cells.clock, may_miss=True),
        Column("day_until", cells.clock, may_miss=True),
        Column("cut_off", cells.instant_or_clock, may_miss=True),
    ),
)
PLACES = Table(
    "places",
    ("place",),
    (
        Column("place", cells.identifier, must=True),
        Column("name", must=True),
        Column("address"),
        Column("latitude", cells.degrees(90)),
        Column("longitude", cells.degrees(180)),
        Column("zone"),
        Column("phone", cells.phone),
        Column("opens", cells.clock),
        Column("closes", cells.clock),
        Column("precincts", cells.identifiers),
        *_counts("registered", "expected_voters"),
        Column("groups", cells.names, may_miss=True),
    ),
)
EQUIPMENT = Table(
    "equipment",
    ("asset",),
    (
        Column("asset", cells.identifier, must=True),
        Column("equipment", cells.identifier, must=True, of="equipment"),
        Column("model"),
        Column("batch"),
        _reference("place", "place"),
        Column("spare", cells.yes_no, must=True),
        Column("seals", cells.identifiers),
        *_counts("public_counter", "protective_counter"),
        Column("firmware", may_miss=True),
        Column("tested_on", cells.day, may_miss=True),
        Column("test_result", may_miss=True),
        Column("serviced_on", cells.day, may_miss=True),
        _reference("part_of", "asset", may_miss=True),
        Column("route", may_miss=True),
    ),
    ids="asset",
)
PEOPLE = Table(
    "people",
    ("login",),
    (
        Column("login", cells.identifier, must=True),
        Column("name", must=True),
        Column("role", cells.some_of(ROLES, "role"), must=True),
        Column("zone"),
        Column("phone", cells.phone),
    ),
)
EXPOSURE = Table(
    "exposure",
    ("place", "date"),
    (
        Column("place", cells.identifier, must=True, of="place"),
        Column("date", cells.day, must=True),
        *_times("opened_at", "closed_at"),
        *_counts("ballots", "sheets", "checkins"),
    ),
    of_election=True,
)
INCIDENTS = Table(
    "incidents",
    ("incident",),
    (
        Column("incident", cells.identifier, must=True),
        _reference("place", "place"),
        _reference("asset", "asset", kept=True),
        _reference("equipment", "equipment"),
        Column("symptom", cells.one_of(SYMPTOMS, "symptom")),
        Column("phase", cells.one_of(PHASES, "phase")),
        Column("effect", cells.one_of(EFFECTS, "effect")),
        Column("flags", cells.some_of(FLAGS, "flag")),
        *_times("started_at", "reported_at", "dispatched_at", "arrived_at", "restored_at"),
        Column("outcome", cells.one_of(OUTCOMES, "outcome")),
        Column("cause", cells.one_of(CAUSES, "cause")),
        _reference("article", ""),
        *_counts("ballots_affected", "voters_affected"),
        Column("caller_words"),
        Column("note"),
        _reference("duplicate_of", "incident", may_miss=True),
        Column("cause_confidence", cells.one_of(CONFIDENCES, "confidence"), may_miss=True),
    ),
    ids="incident",
    of_election=True,
)
SHIFTS = Table(
    "shifts",
    ("person", "starts_at"),
    (
        Column("person", cells.identifier, must=True, of="person", kept=True),
        Column("starts_at", cells.instant, must=True),
        Column("ends_at", cells.instant, must=True),
    ),
)
CALLS = Table(
    "calls",
    ("call",),
    (
        Column("call", cells.identifier, must=True),
        _reference("place", "place"),
        Column("started_at", cells.instant, must=True),
        *_times("answered_at", "ended_at"),
        _reference("incident", "incident"),
    ),
    of_election=True,
)
TABLES = {
    table.kind: table
    for table in (ELECTIONS, PLACES, EQUIPMENT, PEOPLE, EXPOSURE, INCIDENTS, SHIFTS, CALLS)
}


def header(kind: str) -> list[str]:
    """The column names of a table in their usual order, as an empty file has them."""
    return [column.name for column in TABLES[kind].columns]
