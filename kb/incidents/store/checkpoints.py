"""Signed checkpoints of each log: made, kept for ever, given back.

A log must never sign two states that do not continue each other (C2SP tlog-checkpoint), so the
last one that was signed is proven to be the beginning of what is there before anything new is
signed. Between two entries there is one state, and so at most one checkpoint of a size.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from sqlite_utils import Database

from kb.base.clock import format_instant, parse_instant
from kb.base.database import Store
from kb.base.errors import StateError
from kb.incidents import checkpoint, merkle, notes
from kb.incidents.store import keys, tree

Reason = Literal["hourly", "close", "asked"]

TABLE = """CREATE TABLE checkpoints (
    log TEXT NOT NULL,
    size INTEGER NOT NULL CHECK (size > 0),
    root BLOB NOT NULL CHECK (length(root) = 32),
    note TEXT NOT NULL,
    made TEXT NOT NULL,
    reason TEXT NOT NULL CHECK (reason IN ('hourly', 'close', 'asked')),
    PRIMARY KEY (log, size)
) STRICT, WITHOUT ROWID"""

GUARDS = (
    """CREATE TRIGGER checkpoints_no_update BEFORE UPDATE ON checkpoints BEGIN
        SELECT RAISE(ABORT, 'checkpoints are append-only: what was signed cannot be changed');
    END""",
    """CREATE TRIGGER checkpoints_no_delete BEFORE DELETE ON checkpoints BEGIN
        SELECT RAISE(ABORT, 'checkpoints are append-only: what was signed cannot be deleted');
    END""",
    """CREATE TRIGGER checkpoints_only_larger BEFORE INSERT ON checkpoints
    WHEN NEW.size <= (SELECT max(size) FROM checkpoints WHERE log = NEW.log) BEGIN
        SELECT RAISE(ABORT, 'a checkpoint of a log is larger than the one before');
    END""",
)


@dataclass(frozen=True)
class Signed:
    """A checkpoint as it was signed. `note` is the whole signed note, `root` 32 bytes."""

    log: str
    size: int
    root: bytes
    note: str
    made: datetime
    reason: Reason


class Checkpoints:
    """The checkpoints of a data folder. Safe for many threads.

    `held` gives how many entries of a log a standby holds; only so many are then signed, since
    what is signed must not be lost with this machine. Without a standby all are.
    """

    def __init__(
        self, store: Store, folder: Path, held: Callable[[str], int] | None = None
    ) -> None:
        self._store = store
        self._folder = folder
        self._held = held

    def all(self, log: str) -> list[Signed]:
        """Those of a log, the newest first."""
        return _select(self._store.read(), "log = ?", [log])

    def latest(self, log: str) -> Signed | None:
        """The newest of a log."""
        return next(iter(_select(self._store.read(), "log = ?", [log], limit=1)), None)

    def of_size(self, log: str, size: int) -> Signed | None:
        """The one of this size."""
        return next(iter(_select(self._store.read(), "log = ? AND size = ?", [log, size])), None)

    def signable(self, log: str) -> int:
        """How many entries of a log may be signed now."""
        there = tree.size(self._store.read(), log)
        return there if self._held is None else min(there, self._held(log))

    def make(self, log: str, reason: Reason, now: datetime) -> Signed:
        """Sign the log as it stands; the newest one again where nothing was added to it.

        Raises StateError where there is no key or no entry, or where the log does not continue
        what was signed last: then nothing is signed.
        """
        signer = keys.signer(self._folder)
        size = self.signable(log)
        if size == 0:
            held = "" if self._held is None else " that the standby holds"
            raise StateError(
                f"There is no entry{held} in this log yet, so there is nothing to sign."
            )

        def job(database: Database) -> Signed:
            last = next(iter(_select(database, "log = ?", [log], limit=1)), None)
            if last is not None and size <= last.size:
                return last
            root = _checked_root(database, log, size, last)
            point = checkpoint.Checkpoint(checkpoint.origin(signer.name, log), size, root)
            made = Signed(log, size, root, notes.sign(point.text(), signer), now, reason)
            row = (log, size, root, made.note, format_instant(now), reason)
            database.execute("INSERT INTO checkpoints VALUES (?, ?, ?, ?, ?, ?)", row)
            return made

        return self._store.write(job)


def _checked_root(database: Database, log: str, size: int, last: Signed | None) -> bytes:
    """The root of the log, once it is proven to continue what was signed last."""
    nodes = tree.reader(database, log)
    root = merkle.root_at(nodes, size)
    if last is not None:
        proof = merkle.consistency_proof(nodes, last.size, size)
        if not merkle.verify_consistency(last.size, size, last.root, root, proof):
            raise StateError(
                f"The log '{log}' does not continue what was signed at {last.size} entries on "
                f"{format_instant(last.made)}: earlier entries were changed past the program. "
                "Nothing was signed. Stop the server, keep the folder as it is, and compare it "
                "with a backup."
            )
    return root


def _select(
    database: Database, where: str, values: list[str | int], limit: int = -1
) -> list[Signed]:
    query = f"SELECT * FROM checkpoints WHERE {where} ORDER BY size DESC LIMIT {limit}"  # noqa: S608 - from the constants above
    return [
        Signed(log, size, bytes(root), note, parse_instant(made), reason)
        for log, size, root, note, made, reason in database.execute(query, values)
    ]
