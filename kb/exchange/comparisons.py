"""The file of comparisons that a review is asked for: name, equipment, before, places."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from kb.base.errors import InputError, Problem, Problems
from kb.review.beforeafter import Comparison
from kb.review.rows import Material

COLUMNS = ("name", "equipment", "before", "places")


def read(path: Path, material: Material, earlier: Sequence[Material]) -> list[Comparison]:
    """The comparisons of a file. Raises Problems with every fault, by line and column."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path} cannot be read as UTF-8 text: {error}.") from None
    rows = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    if sorted(rows.fieldnames or ()) != sorted(COLUMNS):
        told = ", ".join(rows.fieldnames or ()) or "nothing"
        raise InputError(f"{path}:1: the columns are {', '.join(COLUMNS)}, and it has {told}.")
    problems: list[Problem] = []
    found: dict[str, Comparison] = {}

    def wrong(column: str, message: str) -> None:
        problems.append(Problem(str(path), rows.line_num, "CMP", f"{column}: {message}", column))

    elections = [one.election.id for one in earlier]
    try:
        for row in rows:
            if None in row or None in row.values():
                wrong("name", f"the line has not {len(COLUMNS)} cells")
                continue
            told = {name: cell.strip() for name, cell in row.items()}
            places = told["places"].split()
            if not told["name"] or told["name"] in found:
                wrong("name", f"'{told['name']}' is empty or stands twice")
            if told["equipment"] not in material.deployed_count:
                classes = ", ".join(sorted(material.deployed_count))
                wrong("equipment", f"'{told['equipment']}' is none of {classes}")
            if told["before"] not in elections:
                known = ", ".join(elections) or "no election before this one"
                wrong("before", f"'{told['before']}' is none of {known}")
            if unknown := [place for place in places if place not in material.places]:
                wrong("places", f"not known: {', '.join(unknown)}")
            found[told["name"]] = Comparison(
                told["name"], told["equipment"], told["before"], frozenset(places)
            )
    except csv.Error as error:
        wrong("name", f"is no CSV: {error}")
    if problems:
        raise Problems(problems)
    return list(found.values())
