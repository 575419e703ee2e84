"""Counts by key and by hour of the clock on the wall."""

from __future__ import annotations

from datetime import UTC, datetime

from kb.review.measures.counts import by, by_hour, listed
from kb.review.rows import UNKNOWN, Case
from tests.review.making import at, case


def cases(*known: dict[str, object]) -> list[Case]:
    return [case(f"I{n}", **told) for n, told in enumerate(known)]


def test_duplicates_enter_no_count_and_questions_are_no_faults() -> None:
    found = by(
        cases(
            {"phase": "voting", "effect": "slowed"},
            {"phase": "voting", "effect": "none"},
            {"phase": "voting", "outcome": "duplicate"},
        ),
        lambda case: case.phase,
    )
    assert (found["voting"].cases, found["voting"].faults) == (2, 1)


def test_lists_keep_their_order_and_show_zeros() -> None:
    found = by(cases({"phase": "voting"}, {}), lambda case: case.phase)
    lines = [(count.key, count.cases) for count in listed(found, ("opening", "voting"))]
    assert lines == [("opening", 0), ("voting", 1), (UNKNOWN, 1)]


def test_hours_are_local_and_without_gaps() -> None:
    found = by_hour(
        cases(
            {"reported": at("07:59")},
            {"reported": at("09:00"), "effect": "none"},
            {"started": at("09:30")},
            {},
        ),
        "Etc/GMT+5",
    )
    assert [(count.key, count.cases, count.faults) for count in found] == [
        ("07:00", 1, 1),
        ("08:00", 0, 0),
        ("09:00", 2, 1),
        (UNKNOWN, 1, 1),
    ]


def test_the_hour_that_comes_twice_is_two_lines() -> None:
    # IANA tz database: New York left daylight saving time on 2026-11-01 at 06:00 UTC.
    told = [{"reported": datetime(2026, 11, 1, hour, 30, tzinfo=UTC)} for hour in (4, 5, 6, 7)]
    found = by_hour(cases(*told), "America/New_York")
    assert [(count.key, count.cases) for count in found] == [
        ("00:00", 1),
        ("01:00", 1),
        ("01:00", 1),
        ("02:00", 1),
    ]


def test_no_cases_no_hours() -> None:
    assert by_hour((), "Etc/GMT") == []
