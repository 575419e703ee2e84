"""Cells against published vectors, and the round trip of texts.

The vectors for RFC 3339 come from the JSON Schema Test Suite (draft2020-12, optional formats;
MIT, licence beside the files).
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.exchange import cells

TIME = Path(__file__).parents[1] / "fixtures/time"


def vectors(name: str) -> list[dict[str, object]]:
    tests = json.loads((TIME / name).read_text("utf-8"))[0]["tests"]
    return [test for test in tests if isinstance(test["data"], str) and test["data"]]


def accepts(reader: cells.Reader, cell: str) -> bool:
    try:
        reader(cell)
    except ValueError:
        return False
    return True


@pytest.mark.parametrize(
    "vector", vectors("rfc3339-date-time.json"), ids=lambda vector: vector["description"]
)
def test_instants_as_the_vectors_say(vector: dict[str, str]) -> None:
    assert accepts(cells.instant, vector["data"]) is vector["valid"]


@pytest.mark.parametrize(
    "vector", vectors("rfc3339-date.json"), ids=lambda vector: vector["description"]
)
def test_dates_as_the_vectors_say(vector: dict[str, str]) -> None:
    assert accepts(cells.day, vector["data"]) is vector["valid"]


def test_one_instant_in_two_spellings_is_one_value() -> None:
    # The pair of RFC 3339 section 5.8: the same instant in UTC and at -08:00.
    assert cells.instant("1996-12-19T16:39:57-08:00") == cells.instant("1996-12-20T00:39:57Z")


def guarded(value: str) -> str:
    """What an export writes: one apostrophe before any apostrophes and a formula's first sign."""
    live = value.lstrip("'").startswith(("=", "+", "-", "@", "\t", "\r"))
    return f"'{value}" if live else value


@given(st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"])))
def test_any_text_comes_back_from_its_guarded_cell(value: str) -> None:
    assert cells.text(guarded(value)) == value


@given(st.text("'=+-@\t\rab", max_size=6))
def test_what_looks_like_a_formula_comes_back_too(value: str) -> None:
    assert cells.text(guarded(value)) == value


@pytest.mark.parametrize(
    ("reader", "cell"),
    [
        (cells.identifier, "P 01"),
        (cells.identifier, "=P01"),
        (cells.identifier, "x" * 65),
        (cells.identifiers, "101 @SUM(A1)"),
        (cells.phone, "+1=2"),
        (cells.whole, "-3"),
        (cells.whole, "1.0"),
        (cells.whole, "٣"),
        (cells.degrees(90), "90.5"),
        (cells.degrees(90), "nan"),
        (cells.degrees(180), "1e2"),
        (cells.yes_no, ""),
        (cells.clock, "24:00"),
        (cells.time_zone, "../../etc/passwd"),
        (cells.time_zone, "Nowhere/Land"),
        (cells.text, "a\0b"),
    ],
)
def test_wrong_cells_are_refused(reader: cells.Reader, cell: str) -> None:
    assert not accepts(reader, cell)


@pytest.mark.parametrize(
    ("reader", "cell", "value"),
    [
        (cells.identifier, "SC-001", "SC-001"),
        (cells.identifiers, "101  102", ["101", "102"]),
        (cells.identifiers, "", []),
        (cells.phone, "+1 555 0142 x3", "+1 555 0142 x3"),
        (cells.whole, "0412", 412),
        (cells.whole, "", None),
        (cells.degrees(180), "-41.60", -41.6),
        (cells.degrees(180), "", None),
        (cells.yes_no, "yes", True),
        (cells.day, "", None),
        (cells.clock, "07:00", "07:00"),
        (cells.time_zone, "Etc/GMT+5", "Etc/GMT+5"),
        (cells.some_of(("b", "a"), "letter"), "b a b", ["a", "b"]),
        (cells.one_of(("a",), "letter"), "", None),
        (cells.names, "morning-class 2026", ["morning-class", "2026"]),
    ],
)
def test_right_cells_become_values(reader: cells.Reader, cell: str, value: object) -> None:
    assert reader(cell) == value
