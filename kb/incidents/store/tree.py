"""The complete nodes of each log's tree, kept as they are completed: a root costs a few reads.

The hashes of the leaves stand in the ledger; here are the nodes above them. Each entry completes
one node on average, written in the transaction of the entry. No node is ever changed.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

from sqlite_utils import Database

from kb.base.errors import StateError
from kb.incidents import merkle
from kb.incidents.merkle import Nodes

TABLE = """CREATE TABLE nodes (
    log TEXT NOT NULL,
    level INTEGER NOT NULL CHECK (level > 0),
    position INTEGER NOT NULL,
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    PRIMARY KEY (log, level, position)
) STRICT, WITHOUT ROWID"""

# One guard for the insert: the next position of a level is never one that is taken.
GUARDS = (
    """CREATE TRIGGER nodes_no_update BEFORE UPDATE ON nodes BEGIN
        SELECT RAISE(ABORT, 'the tree is append-only: a node cannot be changed');
    END""",
    """CREATE TRIGGER nodes_no_delete BEFORE DELETE ON nodes BEGIN
        SELECT RAISE(ABORT, 'the tree is append-only: a node cannot be deleted');
    END""",
    """CREATE TRIGGER nodes_no_gap BEFORE INSERT ON nodes
    WHEN NEW.position IS NOT 1 + coalesce(
        (SELECT max(position) FROM nodes WHERE log = NEW.log AND level = NEW.level), -1
    ) BEGIN
        SELECT RAISE(ABORT, 'the tree takes only the next node of a level');
    END""",
)

_INSERT = "INSERT INTO nodes VALUES (?, ?, ?, ?)"


def grow(database: Database, log: str, sequence: int, leaf_hash: bytes) -> None:
    """Store the nodes that the entry of this sequence number (from 1) completes."""
    news = merkle.completed(reader(database, log), sequence - 1, leaf_hash)
    for level, position, hash_ in news:
        database.execute(_INSERT, (log, level, position, hash_))


def fill(database: Database) -> None:
    """Store the nodes over entries that were there before nodes were kept."""
    query = "SELECT log, sequence, hash FROM ledger ORDER BY log, sequence"
    for log, sequence, leaf_hash in database.execute(query).fetchall():
        grow(database, log, sequence, leaf_hash)


def reader(database: Database, log: str) -> Nodes:
    """Reads the complete nodes of a log. It raises StateError where one is missing."""
    cursor = database.conn.cursor()

    def nodes(level: int, position: int) -> bytes:
        if level:
            query = "SELECT hash FROM nodes WHERE log = ? AND level = ? AND position = ?"
            found = cursor.execute(query, (log, level, position)).fetchone()
        else:
            query = "SELECT hash FROM ledger WHERE log = ? AND sequence = ?"
            found = cursor.execute(query, (log, position + 1)).fetchone()
        if found is None:
            raise StateError(
                f"The tree of log '{log}' lacks node {position} of level {level}: rows were "
                "taken out of the database. Keep it as it is and open a backup beside it."
            )
        return bytes(found[0])

    return nodes


@contextlib.contextmanager
def reading(database: Database, log: str) -> Iterator[Nodes]:
    """The reader within one read transaction: the file is locked once, not once a node."""
    database.conn.execute("BEGIN")
    try:
        yield reader(database, log)
    finally:
        database.conn.execute("COMMIT")


def size(database: Database, log: str) -> int:
    """How many entries a log has."""
    query = "SELECT coalesce(max(sequence), 0) FROM ledger WHERE log = ?"
    return int(database.execute(query, [log]).fetchone()[0])
