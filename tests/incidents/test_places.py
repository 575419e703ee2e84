from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from kb.incidents.finding import phone_of, rank
from kb.incidents.places import Election, Place, current


def election(name: str = "e26", date: str = "2026-11-03", **override: str) -> Election:
    plain: dict[str, Any] = {
        "election": name, "name": name, "date": date, "time_zone": "America/New_York",
        "opens": "07:00", "closes": "20:00",
    }  # fmt: skip
    return Election.model_validate(plain | override)


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def test_hours_are_local_and_a_place_may_have_its_own() -> None:
    # New York leaves summer time on 2026-11-01, so election day is five hours behind UTC.
    assert election().opening() == utc("2026-11-03T12:00")
    assert election().closing() == utc("2026-11-04T01:00")
    late = Place.model_validate(
        {"place": "P1", "name": "Hall", "opens": "06:30", "closes": "02:00"}
    )
    assert election().opening(late) == utc("2026-11-03T11:30")
    assert election().closing(late) == utc("2026-11-04T07:00")


def test_closing_not_after_opening_is_the_next_day() -> None:
    assert election(closes="07:00").closing() == utc("2026-11-04T12:00")


def test_the_window_of_the_day() -> None:
    assert election().window() == (utc("2026-11-03T09:30"), utc("2026-11-04T17:00"))
    short = election(day_from="06:00", day_until="22:00")
    assert short.window() == (utc("2026-11-03T11:00"), utc("2026-11-04T03:00"))
    night = election(day_from="06:00", day_until="03:00")
    assert night.window()[1] == utc("2026-11-04T08:00")


@pytest.mark.parametrize(
    ("now", "expected"),
    [
        ("2026-11-03T13:00", "e26"),
        ("2026-11-04T06:00", "e26"),  # one in the morning after
        ("2026-11-20T12:00", "e26"),  # the canvass
        ("2027-05-01T12:00", "e27"),
        ("2020-01-01T00:00", "e26"),
    ],
)
def test_the_election_at_hand(now: str, expected: str) -> None:
    both = [election(), election("e27", "2027-05-04")]
    found = current(both, utc(now))
    assert found is not None
    assert found.id == expected
    assert current([], utc(now)) is None


def test_of_two_as_near_the_coming_one() -> None:
    before, after = election("a", "2026-11-03"), election("b", "2026-11-05")
    middle = before.window()[1] + (after.window()[0] - before.window()[1]) / 2
    found = current([before, after], middle)
    assert found is not None
    assert found.id == "b"


@pytest.mark.parametrize(
    ("text", "expected"),
    [("555-0142", "5550142"), ("(212) 555 0142", "2125550142"), ("0142", "0142"),
     ("012", None), ("12 Mill", None), ("P0142", None)],
)  # fmt: skip
def test_what_is_a_telephone_number(text: str, expected: str | None) -> None:
    assert phone_of(text) == expected


def test_the_nearest_name_stands_first() -> None:
    names = ["Old Ombrick Mill", "Ombrick Hall", "Hall at Ombrick"]
    places = [
        Place.model_validate({"place": f"P{n}", "name": name}) for n, name in enumerate(names)
    ]
    ranked = sorted(places, key=lambda place: rank(place, "ombrick h"))
    assert [place.name for place in ranked] == [
        "Ombrick Hall",
        "Hall at Ombrick",
        "Old Ombrick Mill",
    ]
