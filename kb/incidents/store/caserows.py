"""The rows of an election's cases as read last: only what was told of since is read anew.

A list of thousands is asked for all day by dozens of screens, and between two of them a few
entries came in. The log's length says how far what is kept goes.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass

from sqlite_utils import Database

from kb.incidents.rows import Row
from kb.incidents.store import reading, tree

# So many ids fit one query.
_AT_ONCE = 500


@dataclass(frozen=True)
class _Kept:
    places: int
    length: int
    rows: dict[str, Row]


class CaseRows:
    """What was read of each election's cases. Safe for many threads."""

    def __init__(self) -> None:
        self._kept: dict[str, _Kept] = {}
        self._lock = threading.Lock()

    def of(self, database: Database, election: str) -> list[Row]:
        """The rows of an election, in the order of their numbers."""
        # The lengths first: what comes in between is then read once more, never missed.
        places, length = tree.size(database, ""), tree.size(database, election)
        with self._lock:
            kept = self._kept.get(election)
        if kept is None or kept.places != places:
            # A place's name and zone stand in each row, so a changed place changes rows.
            found = reading.rows(database, "i.election = ?", [election])
            kept = _Kept(places, length, {row.id: row for row in found})
        elif kept.length != length:
            kept = _Kept(places, length, kept.rows | _told(database, election, kept.length))
        with self._lock:
            last = self._kept.get(election)
            if last is None or (last.places, last.length) <= (kept.places, kept.length):
                self._kept[election] = kept
        return sorted(kept.rows.values(), key=lambda row: row.number)

    def forget(self) -> None:
        """Read everything anew: the projection was made again."""
        with self._lock:
            self._kept = {}


def _told(database: Database, election: str, since: int) -> dict[str, Row]:
    """The rows of the cases that something was told of after this length of the log."""
    query = """SELECT DISTINCT incident FROM ledger
        WHERE log = ? AND sequence > ? AND incident IS NOT NULL"""
    ids = [one for (one,) in database.execute(query, [election, since])]
    found: dict[str, Row] = {}
    for begin in range(0, len(ids), _AT_ONCE):
        some = ids[begin : begin + _AT_ONCE]
        marks = ", ".join("?" * len(some))
        found |= {row.id: row for row in reading.rows(database, f"i.id IN ({marks})", some)}
    return found
