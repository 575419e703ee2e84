"""The one SQLite file: a reading connection a thread, and a single writer that commits groups.

SQLite's busy handler is unfair when several connections write. So all writing of a process
goes through one thread, which takes every job that is waiting into one transaction, each in
a savepoint of its own: a job that fails leaves no trace and the others stand. A caller is
answered only after the commit, with `synchronous=FULL`: what is acknowledged survives a kill.
"""

from __future__ import annotations

import logging
import queue
import threading
from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path
from typing import TypeVar, cast

from sqlite_utils import Database
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]

from kb.base.errors import StateError

log = logging.getLogger(__name__)
T = TypeVar("T")
Job = Callable[[Database], object]

# A defect of WAL mode up to 3.51.2 can corrupt a database when two connections write and
# checkpoint at one instant (SQLite's own list of fixes).
FIRST_SAFE_WAL = (3, 51, 3)
LARGEST_GROUP = 64


def connect(path: Path) -> Database:
    """Open a connection with the settings that every connection of the program has."""
    connection = sqlite3.connect(
        str(path), timeout=10, isolation_level=None, check_same_thread=False
    )
    database = Database(connection)
    if sqlite3.sqlite_version_info >= FIRST_SAFE_WAL:
        connection.execute("PRAGMA journal_mode=WAL")
    else:
        log.warning(
            "SQLite %s has a defect in WAL mode; using the rollback journal", sqlite3.sqlite_version
        )
        connection.execute("PRAGMA journal_mode=DELETE")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("PRAGMA foreign_keys=ON")
    connection.execute("PRAGMA recursive_triggers=ON")
    return database


class Store:
    """One database file, opened by one process."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._readers = threading.local()
        self._opened: list[Database] = []
        self._opened_lock = threading.Lock()
        self._jobs: queue.SimpleQueue[tuple[Job, Future[object]] | None] = queue.SimpleQueue()
        self._closed = False
        self._writer = threading.Thread(target=self._write_forever, name="writer", daemon=True)
        self._writer.start()

    def read(self) -> Database:
        """This thread's own reading connection."""
        database = getattr(self._readers, "database", None)
        if database is None:
            database = connect(self.path)
            database.conn.execute("PRAGMA query_only=ON")
            self._readers.database = database
            with self._opened_lock:
                self._opened.append(database)
        return cast("Database", database)

    def write(self, job: Callable[[Database], T]) -> T:
        """Run `job` in the writer's transaction; returns its result after the commit.

        Raises what the job raised (its changes are undone), or StateError where the
        commit itself failed or the store is closed.
        """
        if self._closed:
            raise StateError(f"the database {self.path} is closed")
        future: Future[object] = Future()
        self._jobs.put((job, future))
        return cast("T", future.result())

    def close(self) -> None:
        """Finish what waits, stop the writer, close every connection."""
        if self._closed:
            return
        self._closed = True
        self._jobs.put(None)
        self._writer.join()
        with self._opened_lock:
            for database in self._opened:
                database.close()

    def _write_forever(self) -> None:
        database = connect(self.path)
        ending = False
        while not ending:
            group, ending = self._next_group()
            if group:
                _run_group(database, group)
        database.close()

    def _next_group(self) -> tuple[list[tuple[Job, Future[object]]], bool]:
        """Wait for a job, then take what else waits; True at the end of the store."""
        group: list[tuple[Job, Future[object]]] = []
        item = self._jobs.get()
        while item is not None:
            group.append(item)
            if len(group) == LARGEST_GROUP:
                return group, False
            try:
                item = self._jobs.get_nowait()
            except queue.Empty:
                return group, False
        return group, True


def _run_group(database: Database, group: list[tuple[Job, Future[object]]]) -> None:
    """One transaction for all jobs of the group, one savepoint for each."""
    done: list[tuple[Future[object], object]] = []
    try:
        database.conn.execute("BEGIN IMMEDIATE")
        for job, future in group:
            try:
                with database.atomic():
                    result = job(database)
            except BaseException as error:  # noqa: BLE001 - handed to the caller who waits for it
                future.set_exception(error)
            else:
                done.append((future, result))
        database.conn.execute("COMMIT")
    except sqlite3.Error as error:
        database.rollback()
        failure = StateError(f"the database did not take the entry: {error}")
        for _, future in group:
            if not future.done():
                future.set_exception(failure)
        return
    for future, result in done:
        future.set_result(result)
