"""The sums of a place.

The three precinct sheets are published returns of one real precinct (2012, 2015, 2016), taken
from the collection of trade values, 6.13, where their sources stand.
"""

from __future__ import annotations

import pytest

from kb.incidents.reconcile import reconcile


@pytest.mark.parametrize(
    ("delivered", "left", "provisional", "spoiled", "scanner"),
    [(2001, 1166, 31, 16, 788), (1401, 963, 0, 7, 431), (3100, 2131, 27, 8, 934)],
    ids=["2012-11-06", "2015-11-03", "2016-11-08"],
)
def test_published_precinct_sheets_come_out_even(
    delivered: int, left: int, provisional: int, spoiled: int, scanner: int
) -> None:
    told = {
        "delivered": delivered,
        "left": left,
        "provisional": provisional,
        "spoiled": spoiled,
        "counted": scanner,
    }
    sums = reconcile(told)
    assert sums.expected == scanner
    assert sums.of_ballots == 0
    assert sums.even
    assert not reconcile(told | {"counted": scanner + 1}).even


def test_voters_checked_in_are_counted_stored_provisional_or_fled() -> None:
    told = {"checked_in": 500, "counted": 480, "stored": 12, "provisional": 6, "fled": 2}
    assert reconcile(told).of_voters == 0
    short = reconcile(told | {"fled": 1})
    assert (short.of_voters, short.settled) == (1, False)
    assert reconcile(told | {"fled": 1, "explained": "one left in line"}).settled


def test_without_numbers_nothing_is_even() -> None:
    assert not reconcile({"place": "P1"}).even
    assert reconcile({"place": "P1", "counted": 10}).of_voters is None
