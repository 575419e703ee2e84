"""The rules at their edges: missing fields, clocks that change, nights, duplicates.

Each test's docstring states the rule. All cases are invented; when clocks change is from the
IANA tz database (America/New_York: back on 2026-11-01 at 06:00 UTC, on on 2026-03-08 at 07:00).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest

from kb.incidents.places import Device, Election
from kb.incidents.store.folder import Folder, create, open_folder
from kb.review.rows import Material, Turnout
from kb.review.sections import sections
from kb.review.store import earlier, read
from tests.incidents import telling
from tests.review.making import DEVICES, ELECTION, PLACES, at, call, case, material

JAM: dict[str, Any] = {
    "place": "P1",
    "asset": "SC-1",
    "equipment": "scanner",
    "symptom": "jam",
    "phase": "voting",
    "effect": "stopped",
    "started": at("08:00"),
    "reported": at("08:05"),
    "restored": at("08:30"),
    "outcome": "fixed-on-site",
}
ONE_PLACE = {"P1": PLACES[0]}


def election(**known: Any) -> Election:
    return Election(**ELECTION.model_dump() | known)


def reviewed(*cases: dict[str, Any], **known: Any) -> dict[str, Any]:
    """The review of jams that differ from `JAM` as told."""
    return sections(material([case(f"I{n}", **JAM | one) for n, one in enumerate(cases)], **known))


# Fields that are missing


def test_without_a_start_the_report_is_the_start() -> None:
    """Where started_at is empty the fault begins when it was reported."""
    found = reviewed({"started": None})
    assert found["restore"]["overall"]["median"] == 25
    assert found["time_lost"]["places"] == {"P1": 25}
    assert found["incomplete"]["records"] == {"I0": ["started_at"]}


def test_without_any_time_there_is_no_duration() -> None:
    """Where both are empty the row is in no duration, but in every count."""
    found = reviewed({"started": None, "reported": None})
    assert found["restore"]["no_start"] == ["I0"]
    assert found["restore"]["overall"]["n"] == 0
    assert found["pareto"]["by_minutes"] == []
    assert found["pareto"]["by_count"][0]["value"] == 1
    assert found["time_lost"]["places"] == {}


def test_without_a_place_a_fault_is_in_totals_alone() -> None:
    """A fault without a place is in totals, not in any table by place or zone."""
    found = reviewed({"place": None}, {})
    assert found["totals"]["faults"] == 2
    assert found["rates"]["left_out_faults"] == 1
    assert found["rates"]["overall"]["k"] == 1
    assert found["rates"]["by_zone"]["East"]["k"] == 1
    assert found["rates"]["per_100_devices"]["scanner"]["k"] == 2
    assert (found["restore"]["overall"]["n"], found["restore"]["by_zone"]["East"]["n"]) == (2, 1)
    assert found["funnel"]["expected"]["P1"]["k"] == 1
    assert found["time_lost"]["places"] == {"P1": 30}
    assert "place" in found["incomplete"]["records"]["I0"]


def test_an_unknown_effect_counts_as_a_fault() -> None:
    """An unknown effect is a group of its own and counts as a fault."""
    found = reviewed({"effect": "(unknown)"}, {"effect": "none"})
    assert found["totals"]["by_effect"] == {"(unknown)": 1, "none": 1}
    assert found["totals"]["faults"] == 1
    # It is not known that voting stopped; the device was out of order.
    assert found["time_lost"]["places"] == {}
    assert found["time_lost"]["devices"]["scanner"]["minutes_lost"] == 30


def test_an_unknown_symptom_is_a_group() -> None:
    """An empty symptom is a group of its own, and no two such faults are held to be alike."""
    unknown = {"symptom": "(unknown)"}
    cases = [case(f"I{n}", **JAM | unknown | {"place": f"P{n}"}) for n in (1, 2, 3, 4)]
    cases.append(case("I5", **JAM | unknown))
    before = material(cases, election=election(election="E0", date=date(2024, 5, 7)))
    found = sections(material(cases), [before])
    assert [line["key"] for line in found["pareto"]["by_count"]] == ["scanner|(unknown)"]
    assert found["alarms"]["first"] == {}
    assert found["recurrence"] == {"across_elections": {}, "same_day": {}}
    assert found["suspected_duplicates"] == []


# Durations


@pytest.mark.parametrize("outcome", [None, "fixed-on-site", "device-swapped", "no-fault-found"])
def test_without_an_end_a_fault_is_open_whatever_its_outcome(outcome: str | None) -> None:
    """Where restored_at is empty the fault is censored at the cut-off, whatever its outcome."""
    found = reviewed({"restored": None, "outcome": outcome})
    overall = found["restore"]["overall"]
    assert (overall["n"], overall["restored"], overall["open"]) == (1, 0, 1)
    assert overall["median"] is None
    # From 08:00 to the cut-off at 22:00; at the place until it closed at 20:00.
    assert found["pareto"]["by_minutes"][0]["value"] == 14 * 60
    assert found["time_lost"]["places"] == {"P1": 12 * 60}
    assert found["incomplete"]["open_cases"] == ([] if outcome else ["I0"])


def test_negative_durations_are_left_out_and_listed() -> None:
    """A fault restored before it began is in no duration, no minutes and no outage, but listed."""
    found = reviewed({"restored": at("07:50")}, {})
    assert found["restore"]["excluded"] == ["I0"]
    assert found["restore"]["overall"]["n"] == 1
    assert found["restore"]["by_zone"]["East"]["n"] == 1
    assert found["pareto"]["by_minutes"][0]["value"] == 30
    assert found["time_lost"]["places"] == {"P1": 30}
    assert found["incomplete"]["records"] == {"I0": ["restored_at<started_at"]}
    assert found["totals"]["faults"] == 2


def test_a_fault_restored_at_once_lasted_no_time() -> None:
    """A duration of nothing is not negative."""
    found = reviewed({"restored": at("08:00")})
    assert found["restore"]["excluded"] == []
    assert found["restore"]["overall"]["median"] == 0
    assert found["time_lost"]["places"] == {}


def test_a_skewed_clock_is_a_disorder_and_durations_use_instants() -> None:
    """Reported before started is listed; what is measured starts at started_at all the same."""
    found = reviewed({"reported": at("07:30")})
    assert found["incomplete"]["records"] == {"I0": ["reported_at<started_at"]}
    assert found["restore"]["overall"]["median"] == 30


def test_offsets_make_no_difference() -> None:
    """Every time is compared as an instant, in whatever offset it is written."""
    found = reviewed({"restored": datetime(2026, 5, 5, 13, 30, tzinfo=UTC)})
    assert found["restore"]["overall"]["median"] == 30
    assert found["incomplete"]["records"] == {}


# Duplicates


def test_duplicates_enter_no_count_but_two() -> None:
    """A marked duplicate is in nothing but `rows` and `duplicates`."""
    cases = [case(f"I{n}", **JAM | {"place": f"P{n}", "asset": f"SC-{n}"}) for n in (1, 2, 3)]
    marked = [
        case(f"D{n}", **JAM | {"outcome": "duplicate", "restored": None, "started": at("06:00")})
        for n in range(5)
    ]
    before = material(cases, election=election(election="E0", date=date(2024, 5, 7)))
    plain, more = (sections(material(told), [before]) for told in (cases, [*cases, *marked]))
    assert (more["totals"].pop("rows"), more["totals"].pop("duplicates")) == (8, 5)
    assert (plain["totals"].pop("rows"), plain["totals"].pop("duplicates")) == (3, 0)
    assert more == plain


@pytest.mark.parametrize(("minute", "suspected"), [(30, ["I0|I1"]), (31, [])])
def test_two_alike_within_thirty_minutes_may_be_one(minute: int, suspected: list[str]) -> None:
    """Same place, asset and symptom, starts at most 30 minutes apart: shown, never merged."""
    found = reviewed({}, {"started": at("08:00") + timedelta(minutes=minute)})
    assert found["suspected_duplicates"] == suspected
    assert found["totals"]["faults"] == 2


def test_all_pairs_of_suspected_duplicates_are_shown() -> None:
    """Every pair is held against each other; a marked one, a question or a stranger is in none."""
    found = reviewed(
        {"started": at("08:00")},
        {"started": None, "reported": at("08:20")},
        {"started": at("08:40"), "effect": "none"},
        {"outcome": "duplicate"},
        {"place": None},
        {"asset": None},
        {"symptom": "frozen"},
    )
    assert found["suspected_duplicates"] == ["I0|I1", "I1|I2"]


# Clocks that change


BACK = election(
    date=date(2026, 11, 1), time_zone="America/New_York", opens=time(0, 30), closes=time(3),
    day_from=time(0), day_until=time(6),
)  # fmt: skip
ON = BACK.model_copy(update={"date": date(2026, 3, 8), "opens": time(1), "closes": time(4)})


def back(clock: str, offset: int) -> datetime:
    return datetime.fromisoformat(f"2026-11-01T{clock}:00-0{offset}:00")


def test_when_clocks_go_back_minutes_are_elapsed_ones() -> None:
    """From 01:50 in summer time to 01:10 in winter time are 20 minutes, not a negative time."""
    times = {
        "started": back("01:50", 4),
        "reported": back("01:55", 4),
        "restored": back("01:10", 5),
    }
    found = reviewed(times, election=BACK)
    assert found["restore"]["excluded"] == []
    assert found["restore"]["overall"]["median"] == 20
    assert found["time_lost"]["places"] == {"P1": 20}
    assert found["incomplete"]["records"] == {}


def test_when_clocks_go_back_voting_is_an_hour_longer() -> None:
    """Voting hours are the instants of opening and closing: 00:30 to 03:00 lasts 3.5 hours."""
    times = {"started": back("00:00", 4), "reported": back("00:00", 4), "restored": None}
    found = reviewed(times, election=BACK, places=ONE_PLACE)
    assert found["time_lost"]["voting_minutes_all_places"] == 210
    assert found["time_lost"]["places"] == {"P1": 210}
    assert found["time_lost"]["share_of_place_time"] == 1
    assert found["time_lost"]["devices"]["bmd"]["device_hours"] == 3.5
    # Open from 00:00 to the cut-off at 06:00, an hour of the clock coming twice.
    assert found["pareto"]["by_minutes"][0]["value"] == 7 * 60


def test_when_clocks_go_back_the_second_half_hour_of_a_name_carries_its_offset() -> None:
    """Half hours are 30 minutes each; the repeated name has its offset from UTC behind it."""
    calls = (
        call("C1", back("01:10", 4)),
        call("C2", back("01:10", 5)),
        call("C3", back("01:40", 5)),
    )
    lines = reviewed(election=BACK, calls=calls)["hotline"]["half_hours"]
    assert list(lines) == [
        "00:00", "00:30", "01:00", "01:30", "01:00-0500", "01:30-0500", "02:00", "02:30", "03:00",
        "03:30", "04:00", "04:30", "05:00", "05:30",
    ]  # fmt: skip
    offered = {name: line["offered"] for name, line in lines.items() if line["offered"]}
    assert offered == {"01:00": 1, "01:00-0500": 1, "01:30-0500": 1}


def test_when_clocks_go_on_an_hour_is_missing() -> None:
    """01:00 to 04:00 are two hours of voting, and no half hour begins at two o'clock."""
    started = datetime.fromisoformat("2026-03-08T01:50:00-05:00")
    times = {"started": started, "reported": started}
    restored = datetime.fromisoformat("2026-03-08T03:10:00-04:00")
    calls = (call("C1", restored),)
    found = reviewed(times | {"restored": restored}, election=ON, places=ONE_PLACE, calls=calls)
    assert found["restore"]["overall"]["median"] == 20
    assert found["time_lost"]["voting_minutes_all_places"] == 120
    lines = found["hotline"]["half_hours"]
    assert list(lines) == [
        "00:00", "00:30", "01:00", "01:30", "03:00", "03:30", "04:00", "04:30", "05:00", "05:30",
    ]  # fmt: skip
    assert lines["03:00"]["offered"] == 1


# Nights


LATE = election(opens=time(6), closes=time(2), day_until=time(4))


def test_polls_may_be_open_past_midnight() -> None:
    """A close not after the opening is of the next day; so is the end of the day window."""
    times = {"started": at("23:30"), "reported": at("23:30"), "restored": at("02:30", days=1)}
    found = reviewed(times, election=LATE, places=ONE_PLACE)
    assert found["time_lost"]["voting_minutes_all_places"] == 20 * 60
    assert found["time_lost"]["places"] == {"P1": 150}
    open_ = reviewed(times | {"restored": None}, election=LATE)
    assert open_["pareto"]["by_minutes"][0]["value"] == 270


def test_a_single_place_may_close_past_midnight() -> None:
    """Hours of a place go before those of the election, past midnight too."""
    places = {"P1": PLACES[0].model_copy(update={"closes": time(1)}), "P2": PLACES[1]}
    found = reviewed(places=places)
    assert found["time_lost"]["voting_minutes_all_places"] == (18 + 13) * 60


def test_half_hours_go_on_past_midnight() -> None:
    """Calls after midnight stand in the half hours of their own, up to the window's end."""
    calls = (
        call("C1", at("05:59")),
        call("C2", at("06:00")),
        call("C3", at("01:10", days=1)),
        call("C4", at("03:59", days=1)),
        call("C5", at("04:00", days=1)),
        call("C6", at("01:10")),
    )
    found = reviewed(election=LATE, calls=calls)["hotline"]
    names = list(found["half_hours"])
    assert (names[0], names[36], names[-1], len(names)) == ("06:00", "00:00", "03:30", 44)
    offered = {name: line["offered"] for name, line in found["half_hours"].items()}
    assert {name: number for name, number in offered.items() if number} == {
        "06:00": 1,
        "01:00": 1,
        "03:30": 1,
    }
    assert found["offered"] == 3


@pytest.mark.parametrize(
    ("told", "instant"),
    [
        (None, at("22:00")),
        (time(23, 30), at("23:30")),
        (time(3), at("03:00", days=1)),
        (time(6), at("06:00", days=1)),
        (datetime(2026, 5, 6, 17, 0, tzinfo=UTC), at("12:00", days=1)),
    ],
)
def test_the_cut_off(told: time | datetime | None, instant: datetime) -> None:
    """The end of the day window, else an instant, else a clock: of the next day if not after 06."""
    of = election(cut_off=told)
    assert material(election=of).cut_off == instant
    open_ = reviewed({"restored": None}, election=of)["pareto"]["by_minutes"][0]["value"]
    assert open_ == (instant - at("08:00")) / timedelta(minutes=1)


def test_the_cut_off_goes_with_the_window() -> None:
    """Without a cut-off of its own an election's record is complete when its window ends."""
    assert material(election=LATE).cut_off == at("04:00", days=1)
    assert material(election=BACK).cut_off == datetime(2026, 11, 1, 11, 0, tzinfo=UTC)


# Voting time lost


def test_overlaps_count_once_and_only_voting_hours_count() -> None:
    """A place loses the union of its faults that stopped voting, clipped to its voting hours."""
    found = reviewed(
        {"started": at("06:30"), "restored": at("07:30")},
        {"started": at("07:15"), "restored": at("08:00"), "asset": "SC-9"},
        {"started": at("08:00"), "restored": at("09:00"), "effect": "slowed"},
        {"started": at("19:30"), "restored": None},
        {"started": at("20:10"), "restored": at("20:40")},
        {"started": at("12:00"), "restored": at("13:00"), "effect": "none"},
    )["time_lost"]
    # 07:00 to 08:00 and 19:30 to 20:00.
    assert found["places"] == {"P1": 90}
    assert found["places_total_minutes"] == 90
    # SC-1 by itself: 07:00 to 07:30, 08:00 to 09:00, 19:30 to 20:00; two scanners of 13 hours.
    scanner = found["devices"]["scanner"]
    assert (scanner["minutes_lost"], scanner["device_hours"]) == (120, 26)
    assert scanner["share"] == pytest.approx(120 / (60 * 26))


def accessible(*cases: dict[str, Any], **known: Any) -> dict[str, float]:
    told: dict[str, Any] = {"equipment": "bmd", "asset": "BM-1", "symptom": "frozen"}
    told |= {"effect": "device"}
    return reviewed(*(told | one for one in cases), **known)["time_lost"]["accessible"]


@pytest.mark.parametrize(
    ("told", "minutes"),
    [
        ({}, {"P1": 30}),
        ({"effect": "slowed"}, {"P1": 30}),
        ({"effect": "none"}, {}),
        # Of the only marking device, though not named.
        ({"asset": None}, {"P1": 30}),
        ({"asset": None, "effect": "slowed"}, {}),
        # A place without one.
        ({"place": "P2", "asset": None}, {}),
        ({"place": "P2", "asset": None, "flags": "access custody"}, {"P2": 30}),
        ({"equipment": "accessibility", "asset": None}, {"P1": 30}),
        ({"equipment": "accessibility", "asset": None, "effect": "slowed"}, {}),
        ({"equipment": "scanner", "asset": "SC-1", "flags": "accessory"}, {}),
    ],
)
def test_accessible_voting_is_lost(told: dict[str, Any], minutes: dict[str, float]) -> None:
    """By a grave fault of the class or with the flag, or when every marking device is out."""
    assert accessible(told) == minutes


def test_of_two_marking_devices_both_must_be_out_at_once() -> None:
    """Accessible minutes of a place with several marking devices are those common to all."""
    two = (*DEVICES, Device(asset="BM-2", equipment="bmd", place="P1"))
    other = {"asset": "BM-2", "started": at("08:20"), "restored": at("09:00")}
    assert accessible({}, devices=two) == {}
    assert accessible({}, other, devices=two) == {"P1": 10}
    assert accessible({"asset": None}, devices=two) == {}


# Places as they stood


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Folder]:
    """The county of tests/incidents/telling.py, its two elections in New York's time."""
    create(tmp_path / "county", "")
    opened = open_folder(tmp_path / "county")
    opened.record.append(telling.county())
    yield opened
    opened.close()


def moved(folder: Folder, minute: float, **place: str) -> None:
    """A place told anew so many minutes after seven o'clock of the voting day."""
    body = {"place": "P01", "name": "Ombrick Hall"} | place
    assert folder.record.append([telling.row("place.recorded", body, minute=minute)])


def latest(folder: Folder) -> Material:
    of = folder.record.election("e26")
    assert of is not None
    return read(folder.record, of)


def test_places_are_those_of_the_cut_off(folder: Folder) -> None:
    """Places are reviewed as they stood at the cut-off (22:00), not as they are now."""
    moved(folder, 60, zone="south")
    moved(folder, 15 * 60, zone="east")
    moved(folder, 15 * 60 + 1, zone="west")
    assert [place.zone for place in folder.record.places()] == ["west", "north"]
    assert [place.zone for place in latest(folder).places.values()] == ["east", "north"]


def test_places_loaded_after_the_cut_off_are_as_first_loaded(folder: Folder) -> None:
    """What was recorded only later stands as it was first told."""
    moved(folder, 2000, place="P03", zone="late")
    moved(folder, 2001, place="P03", zone="later")
    assert latest(folder).places["P03"].zone == "late"


def test_earlier_elections_have_the_places_of_their_own_cut_off(folder: Folder) -> None:
    """An earlier election's places, and devices, are those of its own day."""
    device = {"asset": "SC001", "equipment": "scanner", "place": "P02"}
    folder.record.append([telling.row("device.recorded", device, minute=60)])
    moved(folder, 60, zone="south")
    of = folder.record.election("e26")
    assert of is not None
    (before,) = earlier(folder.record, of)
    now = read(folder.record, of)
    assert (before.places["P01"].zone, now.places["P01"].zone) == ("north", "south")
    assert [one.place for one in before.deployed] == ["P01"]
    assert [one.place for one in now.deployed] == ["P02"]


def test_a_case_has_the_zone_that_its_place_had(folder: Folder) -> None:
    """The zone of an incident is that of its place as it stood, also when the place has moved."""
    folder.record.append(
        [telling.event("incident.reported", {"place": "P01", "equipment": "scanner"})]
    )
    moved(folder, 3000, zone="west")
    (one,) = latest(folder).cases
    assert (one.place, one.zone) == ("P01", "north")


def test_late_openings_are_by_the_schedule() -> None:
    """Minutes late are from the scheduled opening of the place; at the minute is not late."""
    opened = {
        "P1": Turnout(500, 500, 500, at("07:00")),
        "P2": Turnout(300, 300, 300, at("07:12")),
    }
    assert reviewed(turnout=opened)["incomplete"]["late_openings"] == {"P2": 12}
