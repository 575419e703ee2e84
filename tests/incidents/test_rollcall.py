"""The roll call by the clock of each place, also over midnight."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from kb.incidents.kinds import MARKS
from kb.incidents.places import Election, Place
from kb.incidents.rollcall import expected, late_openings, next_answer, next_kind, silent

ZONE = ZoneInfo("America/New_York")
DAY = Election.model_validate_json(
    '{"election":"e","name":"E","date":"2026-11-03","time_zone":"America/New_York",'
    '"opens":"07:00","closes":"20:00"}'
)
HALL = Place(place="P1", name="Hall")
MILL = Place(place="P2", name="Mill")


def at(clock: str, day: int = 3) -> datetime:
    hour, minute = (int(part) for part in clock.split(":"))
    return datetime(2026, 11, day, hour, minute, tzinfo=ZONE)


@pytest.mark.parametrize(
    ("now", "kind"),
    [
        (at("05:59"), None),
        (at("06:00"), "place.ready"),
        (at("06:59"), "place.ready"),
        (at("07:00"), "place.opened"),
        (at("20:30"), "place.opened"),
        (at("21:00"), "place.closed"),
        (at("22:00"), "materials.left"),
        (at("23:30"), "materials.received"),
        (at("01:00", 4), "materials.received"),
    ],
)
def test_what_is_awaited_by_the_clock(now: datetime, kind: str | None) -> None:
    due = expected(DAY, HALL, now)
    assert (due[0] if due else None) == kind


def test_a_later_answer_stands_for_the_earlier_ones() -> None:
    heard = {"P1": ["place.opened"], "P2": ["place.ready"]}
    assert silent(DAY, [HALL, MILL], heard, at("06:30")) == []
    (one,) = silent(DAY, [HALL, MILL], heard, at("07:01"))
    assert (one.place.id, one.kind, one.since) == ("P2", "place.opened", at("07:00"))
    assert len(silent(DAY, [HALL, MILL], {}, at("06:30"))) == 2


def test_a_place_with_hours_of_its_own() -> None:
    early = Place.model_validate_json('{"place":"P3","name":"Early","opens":"06:00"}')
    assert [one.place.id for one in silent(DAY, [HALL, early], {}, at("05:30"))] == ["P3"]


def test_late_openings_follow_from_it() -> None:
    opened = {"P1": at("07:12")}
    late = late_openings(DAY, [HALL, MILL], opened, at("07:30"))
    assert [(one.place.id, one.opened) for one in late] == [("P2", None), ("P1", at("07:12"))]
    assert late_openings(DAY, [HALL], {"P1": at("06:58")}, at("07:30")) == []
    assert late_openings(DAY, [MILL], {}, at("06:30")) == []


def test_what_comes_next() -> None:
    assert next_kind([]) == "place.ready"
    assert next_kind(["place.ready", "place.opened"]) == "place.closed"
    assert next_kind(["materials.received"]) is None


def test_nobody_is_offered_closed_in_mid_day() -> None:
    """So that a slip of the finger in a call or at a stop closes no place."""
    early, noon, closing = at("05:00"), at("13:00"), at("20:00")
    assert next_answer(DAY, HALL, [], early) == ("place.ready", "ready")
    assert next_answer(DAY, HALL, ["place.ready"], early) is None
    assert next_answer(DAY, HALL, ["place.ready"], noon) == ("place.opened", "open")
    assert next_answer(DAY, HALL, ["place.opened"], noon) is None
    assert next_answer(DAY, HALL, ["place.opened"], closing) == ("place.closed", "closed")
    assert next_answer(DAY, HALL, MARKS, closing) is None
