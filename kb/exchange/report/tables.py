"""The review's tables as files: CSV, and their description as a Frictionless Data Package."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from typing import Any

from kb.exchange import cells, csv_out
from kb.review.tables.table import Column, Table, Value

FOLDER = "review"
_TYPES = {"number": "number", "share": "number", "count": "number", "yes": "boolean"}


def csv_of(table: Table) -> bytes:
    """A table as CSV: unrounded numbers, yes and no, nothing for what is not known."""
    names = [column.name for column in table.columns]
    lines = (
        [_cell(value, column) for value, column in zip(row, table.columns, strict=True)]
        for row in table.rows
    )
    return csv_out.written(names, lines)


def resources(tables: Iterable[Table]) -> tuple[dict[str, bytes], list[dict[str, Any]]]:
    """The files by their path in the bundle, and what datapackage.json says of each."""
    files: dict[str, bytes] = {}
    told = []
    for table in tables:
        path, data = f"{FOLDER}/{table.name}.csv", csv_of(table)
        files[path] = data
        told.append(_resource(table, path, data))
    return files, told


def _resource(table: Table, path: str, data: bytes) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": f"{FOLDER}-{table.name}",
        "title": table.caption,
        "path": path,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(data),
        "hash": f"sha256:{hashlib.sha256(data).hexdigest()}",
        "schema": {"fields": [_field(column) for column in table.columns], "missingValues": [""]},
    }


def _field(column: Column) -> Mapping[str, Any]:
    field: dict[str, Any] = {"name": column.name, "title": column.heading}
    field["type"] = _TYPES.get(column.kind, "string")
    if column.kind == "yes":
        field |= {"trueValues": ["yes"], "falseValues": ["no"]}
    return field


def _cell(value: Value, column: Column) -> str:
    if value is None:
        return ""
    if column.kind == "yes":
        return "yes" if value else "no"
    return cells.guard(value) if isinstance(value, str) else repr(value)
