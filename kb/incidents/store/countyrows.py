"""Elections, places and devices as read last: thousands of rows that seldom change.

They are recorded in the county's own log, so while that log has not grown they are the same.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any, TypeVar

from sqlite_utils import Database

from kb.incidents.store import tree

Row = TypeVar("Row")


class Rows:
    """What was read of the county's rows, and at which length of its log. Safe for many threads."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[int, list[Any]]] = {}
        self._lock = threading.Lock()

    def of(self, database: Database, name: str, read: Callable[[Database], list[Row]]) -> list[Row]:
        """The rows of one kind, read anew where the county's log has grown; a list of one's own."""
        # The length first: rows that come in between are then read once more, never missed.
        size = tree.size(database, "")
        with self._lock:
            length, rows = self._kept.get(name, (-1, []))
        if length != size:
            rows = read(database)
            with self._lock:
                self._kept[name] = (size, rows)
        return list(rows)
