"""Retention: 22 months after a federal election (52 U.S.C. 20701, from memory)."""

from __future__ import annotations

from datetime import date

import pytest
from pydantic import ValidationError

from kb.base.settings import Settings
from kb.incidents.keeping import keep_until


@pytest.mark.parametrize(
    ("election", "months", "until"),
    [
        (date(2026, 11, 3), 22, date(2028, 9, 3)),
        (date(2026, 4, 30), 22, date(2028, 2, 29)),
        (date(2025, 4, 30), 22, date(2027, 2, 28)),
        (date(2026, 12, 31), 24, date(2028, 12, 31)),
    ],
)
def test_the_last_day(election: date, months: int, until: date) -> None:
    assert keep_until(election, months) == until


def test_the_county_may_keep_longer_and_not_shorter() -> None:
    assert Settings().keep_months == 22
    assert Settings(keep_months=60).keep_months == 60
    with pytest.raises(ValidationError):
        Settings(keep_months=21)
