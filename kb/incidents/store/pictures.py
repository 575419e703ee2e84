"""Pictures that entries name by their SHA-256: kept beside the ledger, never changed."""

from __future__ import annotations

import hashlib

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from kb.base.database import Store

migrations = Migrations("pictures")


@migrations()
def pictures(database: Database) -> None:
    """Create the table."""
    database.execute(
        "CREATE TABLE pictures (sha256 TEXT PRIMARY KEY, data BLOB NOT NULL) STRICT, WITHOUT ROWID"
    )
    database.execute(
        """CREATE TRIGGER pictures_no_update BEFORE UPDATE ON pictures BEGIN
            SELECT RAISE(ABORT, 'a picture cannot be changed');
        END"""
    )


class Pictures:
    """The pictures of a county."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def keep(self, data: bytes) -> str:
        """Keep a picture; returns its SHA-256 in hex. The same one twice is one."""
        name = hashlib.sha256(data).hexdigest()
        self._store.write(
            lambda database: database.execute(
                "INSERT OR IGNORE INTO pictures VALUES (?, ?)", [name, data]
            )
        )
        return name

    def get(self, name: str) -> bytes | None:
        """A picture by its SHA-256."""
        query = "SELECT data FROM pictures WHERE sha256 = ?"
        found = self._store.read().execute(query, [name]).fetchone()
        return bytes(found[0]) if found else None
