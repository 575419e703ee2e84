"""The alarm's arithmetic against the values that the collection of trade values gives (6.9)."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from scipy.stats import poisson

from kb.review.day.alarms import DEFAULT_MEAN, Alarm, Baseline, alarms, baseline, tail
from kb.review.rows import UNKNOWN, Case
from tests.review import making

DAY = date(2026, 11, 3)
OPENING = datetime(2026, 11, 3, 6, 0, tzinfo=UTC)


def case(number: int, minute: float, place: str | None = None, **more: Any) -> Case:
    """A report of a jam so many minutes after six, at a place of its own if none is told."""
    told: dict[str, Any] = {
        "place": place or f"P{number}", "zone": None, "equipment": "scanner", "symptom": "jam",
        "phase": "voting", "effect": "slowed", "reported": OPENING + timedelta(minutes=minute),
    }  # fmt: skip
    return making.case(f"c{number:03}", **told | more)


@pytest.mark.parametrize(("mean", "places"), [(0.25, 4), (0.5, 5), (1.0, 6), (2.0, 9)])
def test_at_how_many_places_the_alarm_comes(mean: float, places: int) -> None:
    """6.9, (calc): the smallest k of at least three with P(Poisson(m) >= k) <= .001."""
    assert next(k for k in range(3, 20) if tail(k, mean) <= 0.001) == places


def test_the_illustration_of_2022() -> None:
    """6.9: m = .892 gives P(X >= 5) = .0023 and P(X >= 6) = .00033."""
    assert tail(5, 0.892) == pytest.approx(0.0023, abs=5e-5)
    assert tail(6, 0.892) == pytest.approx(0.00033, abs=5e-6)


@pytest.mark.parametrize("mean", [0.1, 0.7, 3.0, 12.5])
def test_the_tail_is_the_poissons(mean: float) -> None:
    for least in range(1, 30):
        assert tail(least, mean) == pytest.approx(poisson.sf(least - 1, mean), rel=1e-9)


def test_without_earlier_elections_the_fourth_place_alarms() -> None:
    found = alarms([case(n, 10 * n) for n in range(1, 7)], Baseline(), "UTC", DAY)
    (one,) = found
    assert one.at == OPENING + timedelta(minutes=40)
    assert one.places == ("P1", "P2", "P3", "P4")
    assert one.mean == DEFAULT_MEAN


def test_one_place_that_calls_again_and_again_is_one_place() -> None:
    cases = [case(n, n, place="P1") for n in range(20)]
    assert alarms(cases, Baseline(), "UTC", DAY) == []


def test_reports_of_an_hour_ago_count_no_more() -> None:
    # Four places, but the first exactly sixty minutes before the fourth: (t - 60, t].
    cases = [case(1, 0), case(2, 20), case(3, 40), case(4, 60)]
    assert alarms(cases, Baseline(), "UTC", DAY) == []
    assert alarms([case(1, 1), *cases[1:]], Baseline(), "UTC", DAY)


@pytest.mark.parametrize(
    "left_out",
    [
        {"outcome": "duplicate"},
        {"effect": "none"},
        {"symptom": UNKNOWN},
        {"equipment": UNKNOWN},
    ],
)
def test_what_cannot_be_compared_counts_not(left_out: dict[str, str]) -> None:
    cases = [case(n, n, **left_out) for n in range(10)]
    assert alarms(cases, Baseline(), "UTC", DAY) == []


def test_kinds_are_apart() -> None:
    jams = [case(n, n) for n in range(4)]
    faint = [case(10 + n, n, symptom="faint") for n in range(4)]
    assert [one.kind for one in alarms([*jams, *faint], Baseline(), "UTC", DAY)] == [
        "scanner|jam",
        "scanner|faint",
    ]


def test_the_mean_of_earlier_elections_by_hand() -> None:
    """Window 06:00-22:00, two elections: H = 32. Six jams, and 10 others; f = 6.5 / 32.

    All sixteen lie between 06:00 and 07:00. At 07:30 c = 07:00, band 06:00-08:00 (2 hours):
    s = (16 / (2 x 2)) / (16 / 32) = 8. At 14:00 the band is empty: s = 1.
    """
    jams = [case(n, n) for n in range(6)]
    others = [case(20 + n, n, symptom="faint") for n in range(10)]
    late = [case(40, 17 * 60), case(41, -90)]
    before = baseline([(DAY, [*jams, *others, *late]), (date(2024, 11, 5), [])], "UTC")
    assert before.hours == 16
    flat = 6.5 / 32
    assert before.mean("scanner|jam", 7.5 * 60) == pytest.approx(flat * 8)
    assert before.mean("scanner|jam", 14 * 60) == pytest.approx(flat)
    assert before.mean("scanner|new", 14 * 60) == pytest.approx(0.5 / 32)


def test_a_window_past_midnight_and_the_band_cut_to_it() -> None:
    before = Baseline({"k": 4}, (23 * 60.0, 24.5 * 60.0), 1, (time(20), time(2)))
    assert before.hours == 6
    # At 20:10 the band would begin at 18:40; it is cut to 20:00-20:40 and is empty.
    assert before.mean("k", 20 * 60 + 10) == pytest.approx(4.5 / 6)


def test_local_time_decides_and_not_the_offset() -> None:
    jams = [case(n, n) for n in range(6)]
    before = baseline([(DAY, jams)], "Etc/GMT+5")
    # 06:00 UTC is 01:00 there: outside the day window.
    assert before.reports == {}
    assert before.elections == 1


def test_an_alarm_says_what_it_rests_on() -> None:
    (one,) = alarms([case(n, n) for n in range(4)], Baseline(), "UTC", DAY)
    assert isinstance(one, Alarm)
    assert one.chance == pytest.approx(tail(4, DEFAULT_MEAN))
