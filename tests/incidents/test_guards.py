"""The ledger refuses to be rewritten, whoever opens the file and with whatever library."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pysqlite3
import pytest

from kb.base.database import Store
from kb.incidents.store import Record
from tests.incidents.telling import HOTLINE, county, entry

COPY = """INSERT {how} INTO ledger
SELECT {log}, {sequence}, {id}, election, incident, kind, happened, received, actor, event,
    salts, leaf, hash, imported
FROM ledger WHERE log = 'e26' AND sequence = 2"""

ATTACKS = {
    "update": ("UPDATE ledger SET actor = 'x'", "append-only"),
    "update of one": ("UPDATE ledger SET event = '{}' WHERE sequence = 1", "append-only"),
    "update or replace": ("UPDATE OR REPLACE ledger SET sequence = 1", "append-only"),
    "delete": ("DELETE FROM ledger", "append-only"),
    "delete of the last": ("DELETE FROM ledger WHERE sequence = 3", "append-only"),
    "same id": (COPY.format(how="", log="log", sequence=4, id="id"), "this id"),
    "same id replaced": (
        COPY.format(how="OR REPLACE", log="log", sequence=4, id="id"),
        "this id",
    ),
    "same id in its own place": (
        COPY.format(how="OR REPLACE", log="log", sequence="sequence", id="id"),
        "ledger",
    ),
    "replace": (
        COPY.format(how="OR REPLACE", log="log", sequence=2, id="'new'"),
        "next sequence",
    ),
    "same id ignored": (COPY.format(how="OR IGNORE", log="log", sequence=4, id="id"), "this id"),
    "upsert": (
        COPY.format(how="", log="log", sequence=2, id="'new'")
        + " ON CONFLICT DO UPDATE SET actor = 'x'",
        "next sequence",
    ),
    "gap": (COPY.format(how="", log="log", sequence=5, id="'new'"), "next sequence"),
    "first again": (COPY.format(how="", log="log", sequence=1, id="'new'"), "next sequence"),
    "before the first": (COPY.format(how="", log="log", sequence=0, id="'new'"), "next sequence"),
    "no sequence": (COPY.format(how="", log="log", sequence="NULL", id="'new'"), "sequence"),
    "text for a sequence": (
        COPY.format(how="", log="log", sequence="'x'", id="'new'"),
        "sequence|INTEGER",
    ),
    "another log": (COPY.format(how="", log="'other'", sequence=1, id="'new'"), "CHECK"),
    "hidden row number": (
        "INSERT OR REPLACE INTO ledger (rowid, log, sequence, id) VALUES (1, 'e26', 4, 'new')",
        "rowid",
    ),
}


@pytest.fixture(scope="module")
def ledger_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("guards") / "county.db"
    store = Store(path)
    record = Record(store)
    record.append(county())
    record.take([entry("note.added", {"text": f"note {n}"}) for n in range(2)], HOTLINE)
    record.take([entry("note.added", {"text": "note 3"})], HOTLINE)
    store.close()
    return path


@pytest.fixture(params=[sqlite3, pysqlite3], ids=["sqlite3", "pysqlite3"])
def driver(request: pytest.FixtureRequest) -> ModuleType:
    module: ModuleType = request.param
    return module


@pytest.fixture
def raw(driver: ModuleType, ledger_file: Path) -> Iterator[Any]:
    """A plain connection with the library's own settings: recursive triggers are off."""
    connection = driver.connect(str(ledger_file), isolation_level=None)
    yield connection
    connection.close()


@pytest.mark.parametrize("attack", ATTACKS)
def test_refused(raw: Any, driver: ModuleType, attack: str) -> None:
    before = raw.execute("SELECT * FROM ledger ORDER BY log, sequence").fetchall()
    statement, message = ATTACKS[attack]
    with pytest.raises(driver.Error, match=message):
        raw.execute(statement)
    assert raw.execute("SELECT * FROM ledger ORDER BY log, sequence").fetchall() == before
    assert len(before) > 3


def test_the_next_number_is_taken(raw: Any) -> None:
    """The same statement with the right number goes through: it is the guards that refuse."""
    raw.execute("BEGIN")
    raw.execute(COPY.format(how="", log="log", sequence=4, id="'new'"))
    assert raw.execute("SELECT max(sequence) FROM ledger WHERE log = 'e26'").fetchone() == (4,)
    raw.execute("ROLLBACK")
