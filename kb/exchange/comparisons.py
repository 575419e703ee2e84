"""The file of comparisons that a review is asked for: name, equipment, before, places."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from kb.base.errors import InputError, Problem, Problems
from kb.review.measures.beforeafter import Comparison
from kb.review.rows import Material

COLUMNS = ("name", "equipment", "before", "places")
# How many cells a line has, beside its columns.
EXTENT = ""


def read(path: Path, material: Material, earlier: Sequence[Material]) -> list[Comparison]:
    """The comparisons of a file. Raises Problems with every fault, by line and column."""
    problems: list[Problem] = []
    found: dict[str, Comparison] = {}
    for line, row in _rows(path):
        problems += [
            Problem(str(path), line, "CMP", f"{column}: {message}", column)
            for column, message in _faults(row, material, earlier)
        ]
        if row["name"] in found:
            message = f"name: '{row['name']}' stands twice"
            problems.append(Problem(str(path), line, "CMP", message, "name"))
        places = frozenset(row["places"].split())
        found[row["name"]] = Comparison(row["name"], row["equipment"], row["before"], places)
    if problems:
        raise Problems(problems)
    return list(found.values())


def _rows(path: Path) -> Iterator[tuple[int, Mapping[str, str]]]:
    """Each row with its line. Raises InputError for what is no such table."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
        rows = csv.reader(io.StringIO(text, newline=""), strict=True)
        names = next(rows, [])
        if sorted(names) != sorted(COLUMNS):
            raise InputError(
                f"{path}:1: the columns are {', '.join(COLUMNS)}; it has {', '.join(names)}."
            )
        for cells in rows:
            if not cells:
                continue
            cleaned = [cell.strip() for cell in cells]
            # A cell too few or too many is told with the other faults of the line.
            row = dict.fromkeys(names, "") | dict(zip(names, cleaned, strict=False))
            yield rows.line_num, row | {EXTENT: str(len(cells))}
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise InputError(f"{path} cannot be read as CSV in UTF-8: {error}.") from None


def _faults(
    row: Mapping[str, str], material: Material, earlier: Sequence[Material]
) -> Iterator[tuple[str, str]]:
    elections = [one.election.id for one in earlier]
    if row[EXTENT] != str(len(COLUMNS)):
        yield "name", f"the line has {row[EXTENT]} cells, not {len(COLUMNS)}"
    if not row["name"]:
        yield "name", "is empty"
    if row["equipment"] not in material.deployed_count:
        classes = ", ".join(sorted(material.deployed_count)) or "nothing is deployed"
        yield "equipment", f"'{row['equipment']}' is none of {classes}"
    if row["before"] not in elections:
        known = ", ".join(elections) or "no election before this one"
        yield "before", f"'{row['before']}' is none of {known}"
    unknown = [place for place in row["places"].split() if place not in material.places]
    if unknown:
        yield "places", f"not known: {', '.join(unknown)}"
