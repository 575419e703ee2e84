"""What a review of an election asks of the record: plain columns, quick for 100,000 cases."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import TypeVar

from sqlite_utils import Database

from kb.incidents.kinds import IMPORTED
from kb.incidents.rows import stamp
from kb.incidents.values import Body

Kind = TypeVar("Kind", bound=Body)

# The columns that every election gives, and those that only the one under review needs.
_ALWAYS = (
    "id, place, asset, equipment, symptom, coalesce(worst_effect, effect), "
    "CASE WHEN duplicate_of IS NOT NULL AND NOT imported THEN 'duplicate' ELSE outcome END, "
    "started, reported, restored"
)
_WHOLE = "phase, flags, article, dispatched, arrived"
# SQLite maps at most so much of a file into memory.
_MAPPED = 2**31 - 2**16


@contextmanager
def mapped(database: Database) -> Iterator[Database]:
    """Read through the file's pages in memory: four times as quick for rows that lie far apart.

    Only while a review reads: an error of the disk would end the program, not the query.
    """
    database.execute(f"PRAGMA mmap_size = {_MAPPED}").fetchall()
    try:
        yield database
    finally:
        database.execute("PRAGMA mmap_size = 0").fetchall()


def cases(database: Database, election: str, *, whole: bool) -> list[tuple[str | None, ...]]:
    """Every case of a place, in the order of their numbers.

    Id, place, asset, equipment, symptom, worst effect, outcome, started, reported, restored; and
    where `whole` phase, flags, article, dispatched, arrived.
    """
    columns = f"{_ALWAYS}, {_WHOLE}" if whole else _ALWAYS
    query = f"""SELECT {columns} FROM incidents
        WHERE election = ? AND NOT county_wide ORDER BY number"""  # noqa: S608 - constants
    with mapped(database):
        return list(database.execute(query, [election]).fetchall())


def file_names(database: Database, election: str) -> dict[str, str]:
    """What files call the cases that came from one, by the record's id."""
    query = """SELECT incident, json_extract(event, '$.body.incident')
        FROM ledger INDEXED BY ledger_of_kind
        WHERE log = ? AND kind = ? ORDER BY received, id"""
    with mapped(database):
        return dict(database.execute(query, [election, IMPORTED]).fetchall())


def listed_calls(database: Database, election: str) -> list[tuple[str | None, ...]]:
    """The telephone list: call, place, started, answered, ended, incident; the last telling."""
    query = """SELECT json_extract(event, '$.body') FROM ledger INDEXED BY ledger_of_kind
        WHERE log = ? AND kind = 'call.recorded' ORDER BY sequence"""
    with mapped(database):
        rows = database.execute(query, [election]).fetchall()
    told = (json.loads(text) for (text,) in rows)
    by_call = {one["call"]: one for one in told}
    names = ("call", "place", "started_at", "answered_at", "ended_at", "incident")
    return [tuple(map(one.get, names)) for one in by_call.values()]


def turnout(database: Database, election: str, day: str) -> list[tuple[str | int | None, ...]]:
    """Place, ballots, sheets and check-ins over all voting days; the opening on `day`."""
    query = """SELECT place, sum(json_extract(row, '$.ballots')),
            sum(json_extract(row, '$.sheets')), sum(json_extract(row, '$.checkins')),
            max(CASE WHEN date = ? THEN json_extract(row, '$.opened_at') END)
        FROM exposures WHERE election = ? GROUP BY place ORDER BY place"""
    return list(database.execute(query, [day, election]).fetchall())


def incidents_with(database: Database, election: str, kind: str) -> list[str]:
    """The cases of which something of this kind was told."""
    query = """SELECT DISTINCT incident FROM ledger INDEXED BY ledger_of_kind
        WHERE log = ? AND kind = ? AND incident IS NOT NULL"""
    return [one for (one,) in database.execute(query, [election, kind])]


def as_of(  # noqa: PLR0913 - a table and how it is read
    database: Database,
    kind: str,
    model: type[Kind],
    key: str,
    present: Sequence[Kind],
    at: datetime,
) -> list[Kind]:
    """Rows of the county as they stood at an instant; those recorded only later as first told.

    `present`: how they stand now. Only what was told more than once can have stood otherwise.
    """
    count = "SELECT count(*) FROM ledger INDEXED BY ledger_of_kind WHERE log = '' AND kind = ?"
    if database.execute(count, [kind]).fetchone()[0] == len(present):
        return list(present)
    then: dict[str, Kind] = {}
    query = """SELECT received, json_extract(event, '$.body')
        FROM ledger INDEXED BY ledger_of_kind WHERE log = '' AND kind = ? ORDER BY sequence"""
    for received, text in database.execute(query, [kind]):
        name = str(json.loads(text)[key])
        if name not in then or received <= stamp(at):
            then[name] = model.model_validate_json(text)
    return [then[name] for name in sorted(then)]
