"""The tables: the ledger, which guards itself, and those that follow from it.

Only drafts, the kept texts of trees and what was signed cannot be made again from the ledger.
"""

from __future__ import annotations

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from kb.incidents.rows import STORED
from kb.incidents.store import checkpoints, tree

migrations = Migrations("incidents")

# WITHOUT ROWID: with a hidden row number, INSERT OR REPLACE could name the number of an older
# entry and so throw it out past every trigger.
LEDGER = """CREATE TABLE ledger (
    log TEXT NOT NULL,
    sequence INTEGER NOT NULL,
    id TEXT NOT NULL UNIQUE,
    election TEXT,
    incident TEXT,
    kind TEXT NOT NULL,
    happened TEXT NOT NULL,
    received TEXT NOT NULL,
    actor TEXT NOT NULL,
    event TEXT NOT NULL CHECK (json_valid(event)),
    salts TEXT NOT NULL CHECK (json_valid(salts)),
    leaf BLOB NOT NULL,
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    imported INTEGER NOT NULL CHECK (imported IN (0, 1)),
    PRIMARY KEY (log, sequence),
    CHECK (log = coalesce(election, ''))
) STRICT, WITHOUT ROWID"""

# INSERT OR REPLACE deletes without firing delete triggers where recursive triggers are off,
# so the insert itself has to refuse an id or a place that is taken.
GUARDS = (
    """CREATE TRIGGER ledger_no_update BEFORE UPDATE ON ledger BEGIN
        SELECT RAISE(ABORT, 'the ledger is append-only: an entry cannot be changed');
    END""",
    """CREATE TRIGGER ledger_no_delete BEFORE DELETE ON ledger BEGIN
        SELECT RAISE(ABORT, 'the ledger is append-only: an entry cannot be deleted');
    END""",
    """CREATE TRIGGER ledger_no_second BEFORE INSERT ON ledger
    WHEN EXISTS (SELECT 1 FROM ledger WHERE id = NEW.id) BEGIN
        SELECT RAISE(ABORT, 'the ledger holds an entry with this id');
    END""",
    """CREATE TRIGGER ledger_no_gap BEFORE INSERT ON ledger
    WHEN NEW.sequence IS NOT 1 + coalesce(
        (SELECT max(sequence) FROM ledger WHERE log = NEW.log), 0
    ) BEGIN
        SELECT RAISE(ABORT, 'the ledger takes only the next sequence number of its log');
    END""",
)

INDEXES = (
    "CREATE INDEX ledger_of_incident ON ledger (incident) WHERE incident IS NOT NULL",
    """CREATE INDEX ledger_corrections ON ledger (log)
        WHERE kind = 'event.corrected' AND incident IS NULL""",
    "CREATE INDEX incidents_of_election ON incidents (election, number)",
    "CREATE INDEX incidents_of_place ON incidents (place)",
    "CREATE INDEX devices_of_place ON devices (place)",
    "CREATE INDEX marks_of_election ON marks (election, place)",
)

_SQL_TYPES = {"int": "INTEGER", "bool": "INTEGER"}


def _column(name: str, kind: str) -> str:
    sql = _SQL_TYPES.get(kind.removesuffix(" | None"), "TEXT")
    return f"{name} {sql}{'' if kind.endswith('None') else ' NOT NULL'}"


def _incidents() -> str:
    columns = ", ".join(_column(name, kind) for name, kind in STORED.items())
    return f"CREATE TABLE incidents ({columns}, PRIMARY KEY (id)) STRICT"


# Everything that `rebuild` makes anew, each with the columns that name a row.
PROJECTION = {
    "elections": "id",
    "places": "id",
    "devices": "asset",
    "exposures": "election, place, date",
    "marks": "event",
    "incidents": "id",
}

_ROWS = (
    "CREATE TABLE elections (id TEXT PRIMARY KEY, row TEXT NOT NULL) STRICT",
    """CREATE TABLE places (
        id TEXT PRIMARY KEY, name TEXT NOT NULL, zone TEXT, phone TEXT NOT NULL,
        haystack TEXT NOT NULL, row TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE devices (
        asset TEXT PRIMARY KEY, place TEXT, equipment TEXT NOT NULL, row TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE exposures (
        election TEXT NOT NULL, place TEXT NOT NULL, date TEXT NOT NULL, row TEXT NOT NULL,
        PRIMARY KEY (election, place, date)
    ) STRICT""",
    """CREATE TABLE marks (
        event TEXT PRIMARY KEY, election TEXT NOT NULL, place TEXT NOT NULL, kind TEXT NOT NULL,
        at TEXT NOT NULL, actor TEXT NOT NULL, seals TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE drafts (
        owner TEXT NOT NULL, id TEXT NOT NULL, data TEXT NOT NULL, saved TEXT NOT NULL,
        PRIMARY KEY (owner, id)
    ) STRICT""",
    "CREATE TABLE texts (hash TEXT PRIMARY KEY, text TEXT NOT NULL) STRICT",
    """CREATE TABLE version (
        one INTEGER PRIMARY KEY CHECK (one = 1), version INTEGER NOT NULL
    ) STRICT""",
    "INSERT INTO version VALUES (1, 0)",
)


@migrations()
def ledger_and_projection(database: Database) -> None:
    """Create everything."""
    for statement in (LEDGER, *GUARDS, _incidents(), *_ROWS, *INDEXES):
        database.execute(statement)


@migrations()
def complete_nodes(database: Database) -> None:
    """Keep the nodes of each log's tree, over what is there and what comes."""
    for statement in (tree.TABLE, *tree.GUARDS):
        database.execute(statement)
    tree.fill(database)


@migrations()
def signed_checkpoints(database: Database) -> None:
    """Keep what was signed."""
    for statement in (checkpoints.TABLE, *checkpoints.GUARDS):
        database.execute(statement)


@migrations()
def asked_corrections(database: Database) -> None:
    """Find corrections that were asked for, and what was decided on them, without a full read."""
    database.execute(
        """CREATE INDEX ledger_asked ON ledger (log)
        WHERE kind = 'correction.asked' AND incident IS NULL"""
    )
    database.execute(
        """CREATE INDEX ledger_decided ON ledger (json_extract(event, '$.body.asked'))
        WHERE kind IN ('event.corrected', 'correction.refused')"""
    )


@migrations()
def county_wide_cases(database: Database) -> None:
    """Rows say whether a case is county-wide, and when somebody is to be called back.

    No earlier entry tells of either, so the rows that are there need no reading again.
    """
    there = {name for _, name, *_ in database.execute("PRAGMA table_info(incidents)")}
    for name in ("county_wide", "report_by", "call_back_due"):
        if name not in there:
            kind = " INTEGER NOT NULL DEFAULT 0" if name == "county_wide" else " TEXT"
            database.execute(f"ALTER TABLE incidents ADD COLUMN {name}{kind}")
    # Every page asks for the notices of the day.
    database.execute("CREATE INDEX ledger_of_kind ON ledger (log, kind, sequence)")


@migrations()
def loose_withholdings(database: Database) -> None:
    """Find what hides texts of notices, counts and actions without a full read."""
    database.execute(
        """CREATE INDEX ledger_withheld ON ledger (log)
        WHERE kind = 'text.withheld' AND incident IS NULL"""
    )
