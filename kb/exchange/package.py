"""A description of CSV tables that other programs read: Frictionless Data Package, version 1.

Each table is a resource with its columns' types and keys, so that a spreadsheet, a database or
a statistics program takes the numbers as numbers and the times as times.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence

from kb.exchange import cells
from kb.exchange.tables import Column, Table

_TYPES: Mapping[object, tuple[str, str]] = {
    cells.day: ("date", "default"),
    cells.instant: ("datetime", "%Y-%m-%dT%H:%M:%S%z"),
    cells.clock: ("string", "default"),
    cells.whole: ("integer", "default"),
    cells.yes_no: ("boolean", "default"),
}


def describe(
    name: str,
    title: str,
    made: str,
    tables: Sequence[tuple[Table, bytes]],
    more: Sequence[Mapping[str, object]] = (),
) -> dict[str, object]:
    """The content of datapackage.json for these tables and their bytes, and `more` resources.

    `name`: small letters, digits, dots and dashes, as the specification asks.
    """
    return {
        "profile": "tabular-data-package",
        "name": name,
        "title": title,
        "created": made,
        "licenses": [],
        "resources": [*(_resource(table, data) for table, data in tables), *more],
    }


def to_json(package: Mapping[str, object]) -> bytes:
    """The file's bytes."""
    return json.dumps(package, ensure_ascii=False, indent=1).encode() + b"\n"


def _resource(table: Table, data: bytes) -> dict[str, object]:
    return {
        "profile": "tabular-data-resource",
        "name": table.kind,
        "path": f"{table.kind}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(data),
        "hash": f"sha256:{hashlib.sha256(data).hexdigest()}",
        "schema": {
            "fields": [_field(column) for column in table.columns],
            "missingValues": [""],
            "primaryKey": list(table.key),
        },
    }


def _field(column: Column) -> dict[str, object]:
    kind, form = _TYPES.get(column.read, ("string", "default"))
    field: dict[str, object] = {"name": column.name, "type": kind, "format": form}
    if _is_degrees(column.read):
        field["type"] = "number"
    if kind == "boolean":
        field |= {"trueValues": ["yes"], "falseValues": ["no"]}
    if kind == "datetime":
        field["format"] = "any"
    if column.must:
        field["constraints"] = {"required": True}
    return field


def _is_degrees(read: Callable[[str], object]) -> bool:
    return read.__qualname__.startswith(cells.degrees.__name__)
