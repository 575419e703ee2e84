"""The demo's day is in progress at every hour on every machine."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.demo.clock import today

OFFSETS = st.integers(-12 * 4, 14 * 4).map(lambda quarters: timedelta(minutes=15 * quarters))


@given(st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1)), OFFSETS)  # noqa: DTZ001
def test_polls_are_open_whatever_the_clock_says(naive: datetime, offset: timedelta) -> None:
    now = naive.replace(tzinfo=UTC).astimezone(timezone(offset))
    day = today(now)
    assert timedelta(0) <= now - day.now < timedelta(seconds=1)
    local = now.astimezone(ZoneInfo(day.zone))
    assert time(9, 0) <= local.time() <= time(19, 30)
    assert local.date() == day.date
    assert (
        day.at("07:00") + timedelta(hours=2) <= day.now <= day.at("20:00") - timedelta(minutes=30)
    )


def test_an_office_hour_keeps_the_clock_on_the_wall() -> None:
    now = datetime(2026, 11, 3, 14, 20, tzinfo=timezone(timedelta(hours=-5)))
    assert today(now).zone == "Etc/GMT+5"
    assert today(now).at("14:20") == now
    assert today(now).at("07:00", days_before=182).date().isoformat() == "2026-05-05"


def test_a_night_is_late_morning_elsewhere() -> None:
    now = datetime(2026, 11, 3, 23, 40, tzinfo=UTC)
    assert today(now).zone == "Etc/GMT+12"
    assert today(now).date.isoformat() == "2026-11-03"


def test_a_time_without_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="offset"):
        today(datetime(2026, 11, 3))  # noqa: DTZ001
