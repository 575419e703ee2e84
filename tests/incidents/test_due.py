"""When a checkpoint is due: each hour of elapsed time, and at the close of polls in its zone."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from kb.incidents.due import due
from kb.incidents.places import Election

CLOSES = datetime(2026, 11, 4, 1, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


@pytest.mark.parametrize(
    ("last", "now", "expected"),
    [
        (None, -500, "hourly"),
        (-500, -441, None),
        (-500, -440, "hourly"),
        (-5, -1, None),
        (-5, 0, "close"),
        (-5, 59, "close"),
        (-5, 60, "hourly"),
        (None, 0, "close"),
        (0, 0, None),
        (0, 59, None),
        (0, 60, "hourly"),
        (30, 31, None),
        (None, 90000, "hourly"),
        (500, 100, "hourly"),
    ],
)
def test_minutes_from_the_close(last: int | None, now: int, expected: str | None) -> None:
    made = None if last is None else CLOSES + last * MINUTE
    assert due(made, CLOSES, CLOSES + now * MINUTE) == expected


def test_the_countys_own_log_has_no_close() -> None:
    assert due(CLOSES - MINUTE, None, CLOSES) is None
    assert due(CLOSES - 60 * MINUTE, None, CLOSES) == "hourly"


@pytest.mark.parametrize("day", ["2026-11-01", "2026-03-08"])
def test_a_night_on_which_the_clocks_change_has_a_checkpoint_every_hour(day: str) -> None:
    """New York: 2026-11-01 has 25 hours, 2026-03-08 has 23 (IANA tz database)."""
    zone = ZoneInfo("America/New_York")
    now = datetime.fromisoformat(f"{day}T00:00").replace(tzinfo=zone)
    end = (now + timedelta(days=1)).astimezone(UTC)
    last, made, instant = None, 0, now.astimezone(UTC)
    while instant < end:
        if due(last, None, instant.astimezone(zone)):
            last, made = instant.astimezone(zone), made + 1
        instant += MINUTE
    assert made == {"2026-11-01": 25, "2026-03-08": 23}[day]


@pytest.mark.parametrize(
    ("date", "closes", "expected"),
    [
        ("2026-10-31", "01:30", "2026-11-01T05:30:00Z"),
        ("2026-11-01", "20:00", "2026-11-02T01:00:00Z"),
        ("2026-03-08", "20:00", "2026-03-09T00:00:00Z"),
    ],
)
def test_the_close_is_that_of_the_elections_zone(date: str, closes: str, expected: str) -> None:
    """01:30 on the night of the change is taken as its first occurrence."""
    election = Election.model_validate(
        {
            "election": "e", "name": "E", "date": date, "time_zone": "America/New_York",
            "opens": "07:00", "closes": closes,
        }
    )  # fmt: skip
    close = datetime.fromisoformat(expected)
    before = close - 5 * MINUTE
    assert due(before, election.closing(), close - MINUTE) is None
    assert due(before, election.closing(), close) == "close"
    assert due(before, election.closing(), close + 59 * MINUTE) == "close"
    assert due(before, election.closing(), close + 60 * MINUTE) == "hourly"
