"""The review bundle: the tables behind an election's figures, described, in one zip."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from kb.base.clock import format_instant, now
from kb.base.errors import InputError
from kb.exchange import package
from kb.exchange import tables as exchanged
from kb.exchange.outgoing_store import export_events, export_table
from kb.exchange.report.tables import resources
from kb.exchange.store import known_table
from kb.exchange.tables import TABLES
from kb.incidents.places import Election
from kb.incidents.store import Record
from kb.people.store import People
from kb.review import store
from kb.review.methods import METHODS
from kb.review.sections import Review
from kb.review.tables.table import Table

# People are not part of a review.
LEFT_OUT = frozenset({"people", "shifts"})


def write(record: Record, people: People, election: str | None, out: Path) -> list[str]:
    """Write the bundle of an election; returns the names of its files.

    Raises InputError for an unknown election, or a folder that is not there.
    """
    known_table(record, "incidents", election)
    if not out.parent.is_dir():
        raise InputError(f"There is no folder {out.parent} to write {out.name} into.")
    files = bundle(record, people, str(election))
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return list(files)


def bundle(record: Record, people: People, election: str) -> dict[str, bytes]:
    """The files of the bundle, by name: what was reviewed, and every table of the review."""
    tables = [
        (table, export_table(record, people, table.kind, election if table.of_election else None))
        for table in TABLES.values()
        if table.kind not in LEFT_OUT
    ]
    found = record.election(election)
    if found is None:
        raise InputError(f"There is no election '{election}' here.")
    own, told = resources(_tables(store.reviewed(record, found, now())))
    files = _package(found, tables, told)
    files |= {f"{table.kind}.csv": data for table, data in tables} | own
    return files | {"events.jsonl": export_events(record, election)}


def described(election: Election, found: Review) -> dict[str, bytes]:
    """The tables of a review alone, with their description."""
    own, told = resources(_tables(found))
    return _package(election, (), told) | own


def _package(
    election: Election,
    tables: Sequence[tuple[exchanged.Table, bytes]],
    more: Sequence[Mapping[str, Any]],
) -> dict[str, bytes]:
    name = re.sub(r"[^a-z0-9.-]+", "-", election.id.lower())
    title = f"{election.name}: tables of the review"
    made = package.describe(name, title, format_instant(now()), tables, more)
    return {"datapackage.json": package.to_json(made)}


def _tables(found: Review) -> list[Table]:
    """Every table behind every figure; one without rows is left out."""
    tables = [table for method in METHODS for table in method.tables(found)]
    return [table for table in tables if table.rows]
