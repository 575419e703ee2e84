"""A table as every page, report and file shows it: named columns of one kind, plain rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from kb.review.findings import wording

Kind = Literal["text", "place", "number", "count", "share", "yes"]
Value = str | float | int | bool | None


@dataclass(frozen=True)
class Column:
    """One column: its name in files, its heading with the unit, and what it holds.

    `place` holds ids of places; a `share` is between 0 and 1 and shown in percent.
    """

    name: str
    heading: str
    kind: Kind = "number"

    @property
    def numeric(self) -> bool:
        """Whether it stands to the right."""
        return self.kind in {"number", "count", "share"}


# The columns of an interval, wherever a table shows one.
LIMITS = (Column("low", "95 % from"), Column("high", "to"))


@dataclass(frozen=True)
class Table:
    """`name`: small letters and dashes, its file's name. The first column names the row."""

    name: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Value, ...], ...]


def shown(value: Value, column: Column) -> str:
    """A cell as it is read; a dash where there is nothing."""
    if value is None or value == "":
        return "–"
    if column.kind == "yes":
        return "yes" if value else "no"
    if column.kind == "share":
        return (
            f"{float(value):.1%}" if float(value) >= 0.001 or value == 0 else f"{float(value):.2g}"
        )
    if isinstance(value, str):
        return value
    return wording.plain(float(value))


def table(
    name: str, caption: str, columns: Sequence[Column], rows: Iterable[Sequence[Value]]
) -> Table:
    """A table of these rows."""
    return Table(name, caption, tuple(columns), tuple(tuple(row) for row in rows))


def of_objects(
    name: str,
    caption: str,
    columns: Sequence[Column],
    objects: Mapping[str, Mapping[str, Any]],
) -> Table:
    """A table of named objects: the first column is the name, the others members."""
    rest = [column.name for column in columns[1:]]
    rows = [(key, *(one.get(member) for member in rest)) for key, one in objects.items()]
    return table(name, caption, columns, rows)
