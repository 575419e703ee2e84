"""The stored nodes are those of the tree over the ledger, and nobody rewrites them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from random import Random
from types import ModuleType
from typing import Any

import pysqlite3
import pytest
from sqlite_utils import Database

from kb.base.database import Store
from kb.base.errors import StateError
from kb.incidents import merkle
from kb.incidents.events import Event
from kb.incidents.roles import OF_IMPORTS
from kb.incidents.store import Record, ledger
from tests.benchmarks import proof
from tests.incidents.telling import county, event

LOGS = ("", "e24", "e26")


def notes(count: int, election: str = "e26") -> list[Event]:
    return [
        event("note.added", {"text": f"note {n}"}, election=election, incident=f"{election}-{n}")
        for n in range(count)
    ]


def hashes(database: Database, log: str) -> list[bytes]:
    query = "SELECT hash FROM ledger WHERE log = ? ORDER BY sequence"
    return [found for (found,) in database.execute(query, [log])]


def stored(database: Database) -> list[tuple[str, int, int, bytes]]:
    return database.execute("SELECT * FROM nodes ORDER BY log, level, position").fetchall()


def recomputed(database: Database) -> list[tuple[str, int, int, bytes]]:
    """Every complete node above the leaves, from the hashes of the leaves alone."""
    found = []
    for log in LOGS:
        level, below = 1, hashes(database, log)
        while len(below) > 1:
            below = [merkle.node_hash(*below[at : at + 2]) for at in range(0, len(below) - 1, 2)]
            found += [(log, level, at, node) for at, node in enumerate(below)]
            level += 1
    return found


def grown(record: Record, rounds: int = 30) -> None:
    """Append to two logs in groups of any size."""
    chance = Random(7)
    for _ in range(rounds):
        record.append(notes(chance.randrange(1, 12)))
        record.append(notes(chance.randrange(3), "e24"))


def test_stored_nodes_are_those_of_the_ledger_after_many_appends(
    record: Record, store: Store
) -> None:
    grown(record)
    assert record.log_size("e26") > 130
    assert stored(store.read()) == recomputed(store.read())


def test_roots_and_proofs_from_the_store_verify_at_every_size(record: Record, store: Store) -> None:
    record.append(notes(21))
    leaves = hashes(store.read(), "e26")
    assert record.tree_root("e26") == merkle.root(leaves)
    assert record.tree_root("nowhere") == merkle.EMPTY_ROOT
    for size in range(1, 22):
        root = record.tree_root("e26", size)
        assert root == merkle.root(leaves[:size])
        for sequence in range(1, size + 1):
            path = record.inclusion("e26", sequence, size)
            assert merkle.verify_inclusion(leaves[sequence - 1], sequence - 1, size, path, root)
            old = record.tree_root("e26", sequence)
            path = record.consistency("e26", sequence, size)
            assert merkle.verify_consistency(sequence, size, old, root, path)


def test_a_migration_fills_the_nodes_of_an_older_database(tmp_path: Path) -> None:
    path = tmp_path / "county.db"
    store = Store(path)
    record = Record(store)
    record.append(county())
    grown(record, 8)
    before = stored(store.read())
    assert before == recomputed(store.read())

    def back_in_time(database: Database) -> None:
        database.execute("DROP TABLE nodes")
        database.execute("DROP TABLE checkpoints")
        database.execute(
            "DELETE FROM _sqlite_migrations WHERE name IN ('complete_nodes', 'signed_checkpoints')"
        )

    store.write(back_in_time)
    store.close()
    again = Store(path)
    record = Record(again)
    assert stored(again.read()) == before
    record.append(notes(5))
    assert stored(again.read()) == recomputed(again.read())
    again.close()


def test_an_entry_that_is_undone_leaves_no_node(record: Record, store: Store) -> None:
    before = stored(store.read())

    def job(database: Database) -> None:
        for one in notes(9):
            ledger.append(database, one, roles=OF_IMPORTS)
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        store.write(job)
    assert stored(store.read()) == before
    assert record.log_size("e26") == 0


def test_a_node_taken_out_past_the_guards_is_told(record: Record, store: Store) -> None:
    record.append(notes(8))

    def attack(database: Database) -> None:
        database.execute("DROP TRIGGER nodes_no_delete")
        database.execute("DELETE FROM nodes WHERE log = 'e26' AND level = 3")

    store.write(attack)
    with pytest.raises(StateError, match="lacks node 0 of level 3"):
        record.tree_root("e26")


ATTACKS = {
    "update": ("UPDATE nodes SET hash = zeroblob(32)", "append-only"),
    "update or replace": ("UPDATE OR REPLACE nodes SET position = 0", "append-only"),
    "delete": ("DELETE FROM nodes WHERE level = 1", "append-only"),
    "replace": ("INSERT OR REPLACE INTO nodes VALUES ('e26', 1, 0, zeroblob(32))", "next node"),
    "ignore": ("INSERT OR IGNORE INTO nodes VALUES ('e26', 1, 0, zeroblob(32))", "next node"),
    "gap": ("INSERT INTO nodes VALUES ('e26', 1, 9, zeroblob(32))", "next node"),
    "upsert": (
        "INSERT INTO nodes VALUES ('e26', 1, 0, zeroblob(32)) ON CONFLICT DO UPDATE SET level = 9",
        "next node",
    ),
    "short hash": ("INSERT INTO nodes VALUES ('e26', 1, 4, zeroblob(31))", "CHECK"),
    "leaf level": ("INSERT INTO nodes VALUES ('e26', 0, 0, zeroblob(32))", "CHECK"),
}


@pytest.fixture(scope="module")
def tree_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("tree") / "county.db"
    store = Store(path)
    record = Record(store)
    record.append(county())
    record.append(notes(8))
    store.close()
    return path


@pytest.fixture(params=[sqlite3, pysqlite3], ids=["sqlite3", "pysqlite3"])
def driver(request: pytest.FixtureRequest) -> ModuleType:
    module: ModuleType = request.param
    return module


@pytest.fixture
def raw(driver: ModuleType, tree_file: Path) -> Iterator[Any]:
    """A plain connection with the library's own settings: recursive triggers are off."""
    connection = driver.connect(str(tree_file), isolation_level=None)
    yield connection
    connection.close()


@pytest.mark.parametrize("attack", ATTACKS)
def test_refused(raw: Any, driver: ModuleType, attack: str) -> None:
    before = raw.execute("SELECT * FROM nodes").fetchall()
    statement, message = ATTACKS[attack]
    with pytest.raises(driver.Error, match=message):
        raw.execute(statement)
    assert raw.execute("SELECT * FROM nodes").fetchall() == before
    assert len(before) > 6


def test_the_next_node_is_taken(raw: Any) -> None:
    """The same statement with the right position goes through: it is the guards that refuse."""
    raw.execute("BEGIN")
    raw.execute("INSERT INTO nodes VALUES ('e26', 1, 4, zeroblob(32))")
    raw.execute("ROLLBACK")


def test_the_benchmark_finds_the_same_roots_and_proofs_as_pymerkle() -> None:
    """It stops where the two trees differ, at any of some hundred sizes and entries."""
    assert len(proof.measured(700)) == 3
