"""The worksheets of all elections, in the county's database: entries that are only ever added."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from kb.authoring.worksheet import Entry, Rule, Worksheet, fold
from kb.base.clock import format_instant, parse_instant
from kb.base.database import Store
from kb.base.errors import NotFound
from kb.library.ownwords import OwnWord

migrations = Migrations("worksheet")

_TABLES = (
    """CREATE TABLE worksheet_entries (
        number INTEGER PRIMARY KEY, election TEXT NOT NULL,
        act TEXT NOT NULL CHECK (
            act IN ('saved', 'signed', 'frozen', 'asked', 'approved', 'declined')),
        "by" TEXT NOT NULL, at TEXT NOT NULL, text TEXT NOT NULL, reason TEXT NOT NULL,
        notice INTEGER NOT NULL, library TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX worksheet_of_election ON worksheet_entries (election)",
    """CREATE TRIGGER worksheet_two_people BEFORE INSERT ON worksheet_entries
        WHEN NEW.act = 'approved' AND NOT EXISTS (
            SELECT 1 FROM worksheet_entries
            WHERE number = NEW.notice AND act = 'asked' AND election = NEW.election
            AND "by" != NEW."by")
        BEGIN SELECT RAISE(ABORT, 'nobody approves their own notice'); END""",
)


@migrations()
def worksheets(database: Database) -> None:
    """Create the table, which refuses every change of what is in it."""
    for statement in _TABLES:
        database.execute(statement)
    for change in ("UPDATE", "DELETE"):
        database.execute(
            f"CREATE TRIGGER worksheet_no_{change.lower()} BEFORE {change} ON worksheet_entries "
            "BEGIN SELECT RAISE(ABORT, 'every worksheet is kept for ever'); END"
        )


class Worksheets:
    """The worksheets of all elections. Safe for many threads."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def version(self) -> int:
        """A number that rises whenever a sheet comes into force."""
        query = "SELECT count(*) FROM worksheet_entries WHERE act IN ('signed', 'approved')"
        return int(self._store.read().execute(query).fetchone()[0])

    def worksheet(self, election: str) -> Worksheet:
        """How the worksheet of an election stands."""
        return _find(self._store.read(), election)

    def answers(self, election: str) -> Mapping[str, bool]:
        """The answers of the sheet in force; none where no sheet is signed."""
        return self.worksheet(election).sheet.answers

    def own_words(self, election: str) -> Mapping[str, OwnWord]:
        """The county's own words by the library's terms, of the sheet in force."""
        return self.worksheet(election).sheet.words

    def entry(self, number: int) -> Entry:
        """One entry, of whichever election. Raises NotFound."""
        query = "SELECT * FROM worksheet_entries WHERE number = ?"
        for row in self._store.read().query(query, [number]):
            return _entry(row)
        raise NotFound("There is no such worksheet. The page of the local rules lists those kept.")

    def take(self, election: str, *rules: Rule) -> Worksheet:
        """Let rules of `worksheet` add an entry each, all or nothing.

        Raises what they raise, and then nothing has changed.
        """

        def job(database: Database) -> Worksheet:
            for rule in rules:
                _add(database, rule(_find(database, election)))
            return _find(database, election)

        return self._store.write(job)


def _add(database: Database, entry: Entry) -> None:
    row = asdict(entry) | {"at": format_instant(entry.at)}
    del row["number"]
    database.table("worksheet_entries").insert(row)


def _find(database: Database, election: str) -> Worksheet:
    query = "SELECT * FROM worksheet_entries WHERE election = ? ORDER BY number"
    return fold(election, [_entry(row) for row in database.query(query, [election])])


def _entry(row: dict[str, Any]) -> Entry:
    return replace(Entry(**row), at=parse_instant(row["at"]))
