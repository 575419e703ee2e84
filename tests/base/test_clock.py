"""Instants against the JSON Schema test suite's RFC 3339 cases (fixtures/time, MIT licence)."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.base.clock import format_instant, local, parse_instant, truncate

SUITE = Path(__file__).parents[1] / "fixtures" / "time" / "rfc3339-date-time.json"
CASES = [
    (test["data"], test["valid"], test["description"])
    for group in json.loads(SUITE.read_text())
    for test in group["tests"]
    if isinstance(test["data"], str)
]


@pytest.mark.parametrize(("text", "valid", "why"), CASES, ids=[case[2] for case in CASES])
def test_published_cases(text: str, valid: bool, why: str) -> None:
    if valid:
        assert parse_instant(text).tzinfo is not None, why
    else:
        with pytest.raises(ValueError, match="'"):
            parse_instant(text)


# RFC 3339 section 5.8, from memory.
@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.520Z"),
        ("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57Z"),
        ("1990-12-31T23:59:60Z", "1991-01-01T00:00:00Z"),
        ("1990-12-31T15:59:60-08:00", "1991-01-01T00:00:00Z"),
        ("1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.870Z"),
    ],
)
def test_examples_of_the_standard(text: str, utc: str) -> None:
    assert format_instant(parse_instant(text)) == utc


def test_a_time_without_offset_is_refused_with_what_to_do() -> None:
    with pytest.raises(ValueError, match=r"not a time with an offset, such as 2026-11-03T07:15:00"):
        parse_instant("2026-11-03T07:15:00")


def test_a_time_that_utc_has_no_room_for_is_refused() -> None:
    with pytest.raises(ValueError, match="is not a time"):
        parse_instant("0001-01-01T00:00:00+14:00")


# The clock change of 1 November 2026 (tz database): 01:30 in New York comes twice.
def test_the_hour_that_comes_twice_stays_two_instants() -> None:
    first, second = parse_instant("2026-11-01T05:30:00Z"), parse_instant("2026-11-01T06:30:00Z")
    assert second - first == timedelta(hours=1)
    assert f"{local(first, 'America/New_York'):%H:%M}" == "01:30"
    assert f"{local(second, 'America/New_York'):%H:%M}" == "01:30"


@given(st.datetimes(datetime(1970, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC)))  # noqa: DTZ001 - hypothesis adds the zone
def test_written_and_read_again_is_the_same(instant: datetime) -> None:
    assert parse_instant(format_instant(instant)) == truncate(instant)
