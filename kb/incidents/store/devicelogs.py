"""Devices' own logs: their events as rows, the files as they came, an entry in the ledger."""

from __future__ import annotations

import gzip
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from kb.base.clock import format_instant, parse_instant
from kb.base.database import Store
from kb.incidents.events import Event, Receipt
from kb.incidents.roles import OF_IMPORTS
from kb.incidents.store.record import append_events

migrations = Migrations("devicelogs")


@migrations()
def logs_and_events(database: Database) -> None:
    """Create the tables."""
    for statement in (
        """CREATE TABLE device_logs (
            sha256 TEXT PRIMARY KEY, election TEXT NOT NULL, name TEXT NOT NULL, data BLOB NOT NULL
        ) STRICT""",
        """CREATE TABLE device_events (
            log TEXT NOT NULL REFERENCES device_logs(sha256), number INTEGER NOT NULL,
            election TEXT NOT NULL, asset TEXT NOT NULL, at TEXT NOT NULL, id TEXT NOT NULL,
            type TEXT NOT NULL, disposition TEXT NOT NULL, severity TEXT NOT NULL,
            description TEXT NOT NULL, cast_event INTEGER NOT NULL,
            PRIMARY KEY (log, number)
        ) STRICT, WITHOUT ROWID""",
        "CREATE INDEX device_events_of_asset ON device_events (election, asset, at)",
    ):
        database.execute(statement)


@dataclass(frozen=True)
class DeviceEvent:
    """One event of a device's log, under our asset number."""

    asset: str
    at: datetime
    id: str
    type: str
    disposition: str
    severity: str
    description: str
    cast: bool


class DeviceLogs:
    """The devices' own logs of a county."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def has(self, sha256: str) -> bool:
        """Whether this very file was taken in."""
        query = "SELECT 1 FROM device_logs WHERE sha256 = ?"
        return self._store.read().execute(query, [sha256]).fetchone() is not None

    def take(
        self,
        sha256: str,
        name: str,
        data: bytes,
        events: Sequence[DeviceEvent],
        received: Sequence[Event],
    ) -> list[Receipt]:
        """Store a file, its events and the ledger's entries about it: all or nothing."""
        election = received[0].election or ""

        def job(database: Database) -> list[Receipt]:
            receipts = append_events(database, received, roles=OF_IMPORTS)
            row = [sha256, election, name, gzip.compress(data, mtime=0)]
            database.execute("INSERT INTO device_logs VALUES (?, ?, ?, ?)", row)
            for number, one in enumerate(events, 1):
                database.execute(
                    "INSERT INTO device_events VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    [
                        sha256,
                        number,
                        election,
                        one.asset,
                        format_instant(one.at),
                        one.id,
                        one.type,
                        one.disposition,
                        one.severity,
                        one.description,
                        int(one.cast),
                    ],
                )
            return receipts

        return self._store.write(job)

    def files(self, election: str) -> dict[str, bytes]:
        """The files of an election as they came, by SHA-256 and their name's ending."""
        query = "SELECT sha256, name, data FROM device_logs WHERE election = ? ORDER BY sha256"
        return {
            f"{sha256}.{name.rpartition('.')[2] or 'log'}": gzip.decompress(data)
            for sha256, name, data in self._store.read().execute(query, [election])
        }

    def of(self, election: str, assets: Sequence[str]) -> list[DeviceEvent]:
        """The events of these devices in an election, by time."""
        if not assets:
            return []
        marks = ", ".join("?" * len(assets))
        query = f"""SELECT asset, at, id, type, disposition, severity, description, cast_event
            FROM device_events WHERE election = ? AND asset IN ({marks})
            ORDER BY at, log, number"""  # noqa: S608 - question marks
        return [
            DeviceEvent(
                row["asset"],
                parse_instant(row["at"]),
                row["id"],
                row["type"],
                row["disposition"],
                row["severity"],
                row["description"],
                bool(row["cast_event"]),
            )
            for row in self._store.read().query(query, [election, *assets])
        ]
