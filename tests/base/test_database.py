"""The single writer: groups, savepoints, answers after the commit."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils import Database

from kb.base.database import Store
from kb.base.errors import StateError


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "test.db")
    opened.write(lambda database: database.execute("CREATE TABLE t (n INTEGER PRIMARY KEY) STRICT"))
    yield opened
    opened.close()


def insert(store: Store, number: int) -> None:
    store.write(lambda database: database.table("t").insert({"n": number}))


def numbers(store: Store) -> list[int]:
    return [row["n"] for row in store.read().query("SELECT n FROM t ORDER BY n")]


def test_what_is_written_is_read(store: Store) -> None:
    insert(store, 1)
    assert numbers(store) == [1]


def test_a_failing_job_leaves_no_trace_and_harms_no_other(store: Store) -> None:
    def half(database: Database) -> None:
        database.table("t").insert({"n": 7})
        raise ValueError("changed my mind")

    gate = threading.Event()
    blocker = threading.Thread(target=lambda: store.write(lambda _: gate.wait(5)))
    blocker.start()  # so that the next jobs wait together and form one group
    errors: list[BaseException] = []

    def attempt() -> None:
        try:
            store.write(half)
        except ValueError as error:
            errors.append(error)

    threads = [threading.Thread(target=attempt), threading.Thread(target=insert, args=(store, 8))]
    for thread in threads:
        thread.start()
    gate.set()
    for thread in [blocker, *threads]:
        thread.join()
    assert numbers(store) == [8]
    assert [str(error) for error in errors] == ["changed my mind"]


def test_many_threads_lose_nothing(store: Store) -> None:
    threads = [
        threading.Thread(
            target=lambda start=start: [insert(store, start * 25 + n) for n in range(25)]
        )
        for start in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert numbers(store) == list(range(200))


def test_a_reader_cannot_write(store: Store) -> None:
    with pytest.raises(Exception, match="readonly"):
        store.read().execute("INSERT INTO t VALUES (1)")


def test_a_closed_store_says_so(tmp_path: Path) -> None:
    store = Store(tmp_path / "closed.db")
    store.close()
    store.close()
    with pytest.raises(StateError, match="is closed"):
        store.write(lambda _: None)
