"""Write a table as the import reads it: RFC 4180, the same bytes for the same rows.

A text cell that a spreadsheet would take for a formula gets one apostrophe in front, which the
import takes off again. Numbers, ids and telephone numbers are checked by their patterns and
stand plainly.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, time
from typing import Any

from kb.base.clock import format_instant
from kb.exchange import cells
from kb.exchange.tables import Column, Table


def write(table: Table, rows: Iterable[Mapping[str, object]]) -> bytes:
    """A file of the table: all its columns, then the rows in the order given."""
    names = [column.name for column in table.columns]
    lines = ([_cell(column, row.get(column.name)) for column in table.columns] for row in rows)
    return written(names, lines)


def written(names: Sequence[str], lines: Iterable[Sequence[str]]) -> bytes:
    """A header and lines of cells that are text already, as CSV in UTF-8."""
    out = io.StringIO(newline="")
    table = csv.writer(out)
    table.writerow(names)
    table.writerows(lines)
    return out.getvalue().encode("utf-8")


# How a value is written, by its type; the first that fits (yes/no is a number too, to Python).
_WAYS: tuple[tuple[type | tuple[type, ...], Callable[[Any], str]], ...] = (
    (type(None), lambda _: ""),
    (bool, lambda told: "yes" if told else "no"),
    (datetime, format_instant),
    (date, date.isoformat),
    (time, lambda told: f"{told:%H:%M}"),
    ((list, tuple, set, frozenset), lambda told: " ".join(map(str, told))),
    (object, str),
)


def plain(value: object) -> str:
    """A value as the text of a cell; empty where it is not known."""
    return next(way(value) for kind, way in _WAYS if isinstance(value, kind))


def guarded(table: Table, name: str, text: str) -> str:
    """The text of one cell of a column, made harmless where the column holds free text."""
    column = next(one for one in table.columns if one.name == name)
    return cells.guard(text) if column.read in {cells.text, cells.names} else text


def cells_of(data: bytes) -> Iterator[dict[str, str]]:
    """The rows of a file that was written here, as plain text by column."""
    for row in csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")):
        yield {name: cells.text(cell) for name, cell in row.items()}


def _cell(column: Column, value: object) -> str:
    text = plain(value)
    return cells.guard(text) if column.read in {cells.text, cells.names} else text
