"""Seal numbers against the delivery list. That digits get exchanged is common practice."""

from __future__ import annotations

import pytest

from kb.incidents.seals import compare

LIST = ("004521", "004522", "AB 77-19")


@pytest.mark.parametrize("number", ["004521", " 004521", "ab7719", "AB77-19"])
def test_a_listed_number_however_it_is_written(number: str) -> None:
    assert compare(number, LIST).listed


@pytest.mark.parametrize(
    ("number", "near", "difference"),
    [
        ("004512", "004521", "two digits are exchanged"),
        ("040521", "004521", "two digits are exchanged"),
        ("004523", "004521", "one digit differs"),
        ("AB7791", "AB 77-19", "two digits are exchanged"),
        ("914", None, ""),
        ("400521", None, ""),  # exchanged, but not neighbours
    ],
)
def test_a_number_that_is_not_listed(number: str, near: str | None, difference: str) -> None:
    reading = compare(number, LIST)
    assert (reading.listed, reading.near, reading.difference) == (False, near, difference)
