"""What lies on the desk beside the ledger: drafts, the kept texts of trees, a version number."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from kb.base.errors import InputError
from kb.base.ids import fingerprint
from kb.incidents.rows import stamp


def save_draft(
    database: Database, owner: str, identifier: str, data: Mapping[str, object], saved: datetime
) -> None:
    """Keep a draft, in place of an earlier state of it."""
    row = (owner, identifier, json.dumps(data, ensure_ascii=False), stamp(saved))
    database.execute("INSERT OR REPLACE INTO drafts VALUES (?, ?, ?, ?)", row)


def drafts(database: Database, owner: str) -> dict[str, dict[str, Any]]:
    """A person's drafts by id, the newest first."""
    query = "SELECT id, data FROM drafts WHERE owner = ? ORDER BY saved DESC, id"
    return {identifier: json.loads(data) for identifier, data in database.execute(query, [owner])}


def drop_draft(database: Database, owner: str, identifier: str) -> None:
    """Forget a draft."""
    database.execute("DELETE FROM drafts WHERE owner = ? AND id = ?", [owner, identifier])


def keep_text(database: Database, hash_: str, text: str) -> None:
    """Keep a text under its SHA-256 in hex. Raises InputError where the two do not fit."""
    if fingerprint(text) != hash_:
        raise InputError(f"The text of the tree does not have the hash {hash_}; load it again.")
    database.execute("INSERT OR IGNORE INTO texts VALUES (?, ?)", [hash_, text])


def text(database: Database, hash_: str) -> str | None:
    """A kept text."""
    found = database.execute("SELECT text FROM texts WHERE hash = ?", [hash_]).fetchone()
    return str(found[0]) if found else None


def version(database: Database) -> int:
    """The number that rises with every change of the record."""
    return int(database.execute("SELECT version FROM version").fetchone()[0])


def raise_version(database: Database) -> None:
    """Count one change more."""
    database.execute("UPDATE version SET version = version + 1")
