"""Read one CSV file against its table: every problem at once, with file, line and column.

The reading is Python's `csv` in its strict mode, which follows RFC 4180 and takes any line
break. A file with a problem gives no rows at all: half a file taken is worse than none.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from kb.base.errors import Problem, Problems
from kb.exchange.cells import UnknownId
from kb.exchange.tables import Column, Table

# What can be wrong with a file. Each code has a broken file among the tests' fixtures.
CODES = {
    "CSV01": "the file is UTF-8",
    "CSV02": "quotes open and close as RFC 4180 says",
    "CSV03": "the first line holds the column names",
    "CSV04": "every column is one of the table's",
    "CSV05": "no column of the table is missing",
    "CSV06": "no column stands twice",
    "CSV07": "every line has as many cells as the header",
    "CSV08": "a column that must be filled is not empty",
    "CSV09": "a value is of its column's type",
    "CSV10": "an id is known",
    "CSV11": "an id stands once a file",
    "CSV12": "warning: an asset or a person that a row names is known",
}


@dataclass(frozen=True)
class Row:
    """One row: the line of the file on which it begins, and a value a column."""

    line: int
    values: Mapping[str, object]


@dataclass(frozen=True)
class Content:
    """The rows of a file without faults, and what it should be warned about."""

    rows: tuple[Row, ...]
    warnings: tuple[Problem, ...]


def read(data: bytes, where: str, table: Table, known: Mapping[str, Collection[str]]) -> Content:
    """Read a file's bytes. `known`: the ids there are, by kind, as `Column.of` names them.

    Columns that the file may leave out and does are filled as if empty. Raises Problems with
    every fault of the file at once.
    """
    problems: list[Problem] = []
    rows = list(_typed_rows(_records(data, where), where, table, problems))
    problems += _duplicates(rows, where, table)
    problems += _unknown_ids(rows, where, table, known)
    faults = [problem for problem in problems if not problem.warning]
    if faults:
        raise Problems(faults)
    return Content(tuple(rows), tuple(problems))


def _records(data: bytes, where: str) -> list[tuple[int, list[str]]]:
    """Each record with the line on which it begins; lines with nothing on them are passed over."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        message = "is not UTF-8; save the file as CSV UTF-8"
        raise Problems([Problem(where, line, "CSV01", message)]) from None
    # newline="" keeps line breaks inside quotes as they are.
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    records = []
    line = 1
    try:
        for record in reader:
            if record:
                records.append((line, record))
            line = reader.line_num + 1
    except csv.Error as error:
        message = f"cannot be read from here on: {error}; check the quotes"
        raise Problems([Problem(where, line, "CSV02", message)]) from None
    return records


def _typed_rows(
    records: Sequence[tuple[int, list[str]]], where: str, table: Table, problems: list[Problem]
) -> Iterator[Row]:
    """Type each record, adding what is wrong to `problems`; a cell at fault becomes None."""
    if not records:
        names = ",".join(column.name for column in table.columns if not column.may_miss)
        problems.append(Problem(where, 1, "CSV03", f"is empty; the first line must be {names}"))
        return
    line, header = records[0]
    problems += _header_faults(header, line, where, table)
    for line, record in records[1:]:
        if len(record) != len(header):
            message = f"has {len(record)} cells where the header has {len(header)}"
            problems.append(Problem(where, line, "CSV07", message))
            continue
        cells = dict(zip(header, record, strict=True))
        values: dict[str, object] = {}
        for column in table.columns:
            try:
                values[column.name] = _value(column, cells.get(column.name))
            except ValueError as error:
                values[column.name] = None
                code = _code(column, cells[column.name], error)
                problems.append(_cell_problem(where, line, code, column.name, str(error)))
        yield Row(line, values)


def _value(column: Column, cell: str | None) -> object:
    """The typed value; None stands for a missing column. Raises ValueError."""
    if column.must and cell == "":
        raise ValueError("is empty and must not be")
    if cell is None:
        # Either allowed to miss, or the missing column has been told already.
        return None if column.must else column.read("")
    return column.read(cell)


def _code(column: Column, cell: str, error: ValueError) -> str:
    if column.must and not cell:
        return "CSV08"
    return "CSV10" if isinstance(error, UnknownId) else "CSV09"


def _header_faults(header: list[str], line: int, where: str, table: Table) -> Iterator[Problem]:
    names = [column.name for column in table.columns]
    for name in dict.fromkeys(header):
        if name not in names:
            message = f"is no column of {table.kind}; the columns are {', '.join(names)}"
            yield _cell_problem(where, line, "CSV04", name, message)
        elif header.count(name) > 1:
            yield _cell_problem(where, line, "CSV06", name, "stands twice in the header")
    for column in table.columns:
        if column.name not in header and not column.may_miss:
            yield _cell_problem(where, line, "CSV05", column.name, "is missing in the header")


def _duplicates(rows: Sequence[Row], where: str, table: Table) -> Iterator[Problem]:
    first: dict[tuple[object, ...], int] = {}
    for row in rows:
        key = tuple(row.values[name] for name in table.key)
        if None in key:
            continue
        if key in first:
            message = f"'{' '.join(map(str, key))}' stands already on line {first[key]}"
            yield _cell_problem(where, row.line, "CSV11", table.key[0], message)
        first.setdefault(key, row.line)


def _unknown_ids(
    rows: Sequence[Row], where: str, table: Table, known: Mapping[str, Collection[str]]
) -> Iterator[Problem]:
    own = {row.values[table.key[0]] for row in rows} if table.ids else set()
    for column in (column for column in table.columns if column.of):
        ids = known[column.of]
        for row in rows:
            value = row.values[column.name]
            if value is None or value in ids or (column.of == table.ids and value in own):
                continue
            if column.kept:
                message = f"no {column.of} '{value}' is known; the row is kept"
                problem = _cell_problem(where, row.line, "CSV12", column.name, message)
                yield replace(problem, warning=True)
            else:
                message = f"no {column.of} is called '{value}'"
                yield _cell_problem(where, row.line, "CSV10", column.name, message)


def _cell_problem(where: str, line: int, code: str, column: str, message: str) -> Problem:
    return Problem(where, line, code, f"{column or 'a column without a name'}: {message}", column)
