"""The invented county as it is built: what it promises to hold, and what is planted in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

import pytest

from kb.base.errors import StateError
from kb.demo import store
from kb.demo.build import DemoCounty, build
from kb.demo.clock import today
from kb.demo.day import County, RollCall, events
from kb.incidents.events import Event
from kb.incidents.store.folder import Folder, open_folder
from kb.library import store as library_store
from kb.people.roles import ROLES
from kb.review.findings.board import findings, quiet
from kb.review.findings.finding import Finding
from kb.review.sections import Review, review
from kb.review.store import earlier, read

NOW = datetime(2026, 11, 3, 16, 10, tzinfo=UTC)
TINY = {"P08", "P21", "P38", "P45"}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> DemoCounty:
    return build(tmp_path_factory.mktemp("demo") / "county", NOW)


@pytest.fixture(scope="module")
def county(made: DemoCounty) -> Iterator[Folder]:
    opened = open_folder(made.folder)
    yield opened
    opened.close()


def reviewed(county: Folder, name: str) -> Review:
    of = county.record.election(name)
    assert of is not None
    return review(read(county.record, of), earlier(county.record, of))


@pytest.fixture(scope="module")
def spring(county: Folder) -> Review:
    """The review of the last election before today's."""
    return reviewed(county, "spring")


def finding(of: Review, key: str) -> Finding:
    (one,) = [one for one in findings(of) if one.key == key]
    return one


def keys(of: Review) -> list[str]:
    return [one.key for one in findings(of)]


def test_size_of_the_county(county: Folder) -> None:
    places = county.record.places()
    assert len(places) == 45
    assert len({place.zone for place in places}) == 6
    phones = [place.phone or "" for place in places]
    phones += [account.phone for account in county.people.all()]
    assert all(phone.startswith("555-01") for phone in phones)
    assert len(set(phones)) == len(phones)


def test_one_sign_in_a_role_that_works(made: DemoCounty, county: Folder) -> None:
    assert [sign_in.role for sign_in in made.sign_ins] == list(ROLES)
    first = made.sign_ins[0]
    assert county.people.sign_in(first.login, first.password, NOW, 1)
    for sign_in in made.sign_ins:
        assert sign_in.role in county.people.get(sign_in.login).roles


def test_the_day_in_progress(made: DemoCounty, county: Folder) -> None:
    rows = county.record.incidents(made.election, now=NOW)
    still = [row for row in rows if row.status == "open"]
    assert (len(rows), len(still)) == (35, 12)
    assert Counter(row.effect for row in still)["stopped"] == 2
    assert Counter(row.effect for row in still)["slowed"] >= 4
    rover = next(one.login for one in made.sign_ins if one.role == "rover")
    assert sum(row.rover == rover for row in still) == 3
    assert all((row.first or NOW) <= NOW for row in rows)
    current = county.record.current_election(NOW)
    assert current is not None
    assert current.id == made.election


def test_places_not_heard_from_and_a_late_one(made: DemoCounty, county: Folder) -> None:
    marks = county.record.marks(made.election)
    silent = {place.id for place in county.record.places()} - marks.keys()
    assert silent == {"P09", "P34", "P43", "P44"}
    opening = county.record.election(made.election).opening()
    late = {
        place
        for place, told in marks.items()
        if told["place.opened"].at > opening + timedelta(minutes=5)
    }
    assert late == {"P35"}


def test_custody_gaps_are_where_the_readme_says(made: DemoCounty, county: Folder) -> None:
    found = {}
    for row in county.record.incidents(made.election):
        incident = county.record.incident(row.id)
        assert incident is not None
        for opening in incident.compartments:
            gaps = (
                len(incident.witnesses) < 2,
                opening.closed is None,
                not incident.seals_on,
            )
            if any(gaps):
                found[row.place] = gaps
    assert found == {
        "P12": (True, False, False),
        "P31": (False, False, True),
        "P18": (False, True, True),
    }


def test_live_projection_is_the_rebuilt_one(county: Folder) -> None:
    digest = county.record.digest()
    county.record.rebuild()
    assert county.record.digest() == digest


# What is planted in the past, by the review and its findings.


def test_the_past_elections(made: DemoCounty, county: Folder) -> None:
    assert [one.id for one in county.record.elections()] == ["autumn", "spring", made.election]
    assert made.past_election == "spring"


def test_nothing_else_is_found_beyond_chance(spring: Review) -> None:
    found = {one.key for one in findings(spring) if one.sort == "beyond chance"}
    assert found == {
        "shared:report-printer|batch|RP-07",
        "slow-zone:Saltmarsh",
        "high-place:P27",
        "group:evening-class|epollbook",
        "at-once:epollbook|slow",
        "short-of-people:07:00",
    }


def test_bad_batch_of_report_printers(spring: Review) -> None:
    found = finding(spring, "shared:report-printer|batch|RP-07")
    assert found.words.startswith("6 of 10 had a fault, and 1 of the other 35.")


def test_slow_zone(spring: Review) -> None:
    assert finding(spring, "slow-zone:Saltmarsh").rows == {"zone": "Saltmarsh"}
    restore = spring.sections["restore"]
    slow, whole = restore["by_zone"]["Saltmarsh"]["median"], restore["overall"]["median"]
    assert slow > 2 * whole


def test_one_truly_high_place_and_tiny_ones_with_a_higher_raw_rate(spring: Review) -> None:
    found = finding(spring, "high-place:P27")
    assert found.place == "P27"
    assert found.words.startswith("9 faults on 655 ballots")
    raw = spring.sections["shrinkage"]["top10_raw"]
    assert set(raw[:4]) == TINY
    assert raw[4] == "P27"


def test_tiny_places_are_neither_accused_nor_named(spring: Review) -> None:
    told = findings(spring)
    assert not {one.place for one in told} & TINY
    assert not [one.key for one in told if any(place in one.title for place in TINY)]
    method, words = quiet(spring, told)[0]
    assert method == "funnel"
    assert words.endswith("too few to say.")
    assert not any(place in words for place in TINY)
    faults = spring.sections["funnel"]["expected"]
    assert {faults[place]["k"] for place in TINY} == {1}


def test_the_group_of_the_evening_class_got_better(spring: Review) -> None:
    found = finding(spring, "group:evening-class|epollbook")
    assert "did better since Autumn election" in found.title
    assert "27 faults then and 2 now" in found.words


def test_poll_books_slow_at_once(spring: Review) -> None:
    found = finding(spring, "at-once:epollbook|slow")
    assert found.words.endswith("P03, P11, P30 and P42.")
    slow = {case.place for case in spring.material.faults if case.symptom == "slow"}
    assert slow == {"P03", "P11", "P30", "P33", "P42"}
    assert len({spring.material.zone_of(str(place)) for place in slow}) == 5


def test_hotline_short_of_people(spring: Review) -> None:
    found = finding(spring, "short-of-people:07:00")
    assert found.title == "The hotline was short of people from 07:00 to 08:30"


def test_marking_devices_short_of_spares(spring: Review) -> None:
    found = finding(spring, "spares:bmd")
    assert found.words.startswith("3 of 45 had to be replaced; 2 in store.")
    assert [key for key in keys(spring) if key.startswith("spares:")] == ["spares:bmd"]


def test_custody_gaps_of_the_past(spring: Review) -> None:
    assert finding(spring, "custody-gaps").cases == ("S044", "S048")
    assert spring.sections["custody"] == {
        "openings": 8,
        "gaps": {"S044": ["seal"], "S048": ["witnesses"]},
    }


def test_incomplete_record(spring: Review) -> None:
    totals, lines = spring.sections["totals"], spring.sections["incomplete"]
    assert (totals["rows"], totals["duplicates"]) == (79, 1)
    assert Counter(lack for one in lines["records"].values() for lack in one) == {
        "asset": 6,
        "started_at": 1,
    }
    assert lines["open_cases"] == ["S063"]
    assert lines["places_without_exposure"] == ["P39"]
    assert list(lines["late_openings"]) == ["P14"]
    assert "record-gaps" in keys(spring)


def test_autumn_is_quiet_but_for_a_case_told_twice(county: Folder) -> None:
    autumn = reviewed(county, "autumn")
    assert autumn.earlier == []
    assert [one.key for one in findings(autumn) if one.sort == "beyond chance"] == []
    assert autumn.sections["suspected_duplicates"] == ["A022|A024"]


def test_before_todays_ballots_are_known_places_are_not_compared(
    made: DemoCounty, county: Folder
) -> None:
    today_ = reviewed(county, made.election)
    assert [one.election.id for one in today_.earlier] == ["autumn", "spring"]
    assert today_.sections["rates"]["overall"]["rate"] is None
    words = quiet(today_, findings(today_))
    assert ("funnel", "Places cannot be compared: no ballots are known.") in words


def test_the_demo_names_articles_that_the_starter_library_has(
    made: DemoCounty, county: Folder
) -> None:
    slugs = {path.stem for path in library_store.shipped().rglob("*.md")}
    for election in (made.election, "autumn", "spring"):
        named = {row.article for row in county.record.incidents(election)}
        assert named <= slugs


@pytest.fixture(scope="module")
def cast(made: DemoCounty, county: Folder) -> County:
    return County(
        made.election,
        today(NOW),
        {place.id: place for place in county.record.places()},
        county.record.devices(),
        {account.login: account for account in county.people.all()},
        ["Una Pellusk", "Rolf Astilga"],
        ["judge"],
    )


def day(cast: County, hour: int) -> list[Event]:
    at = today(NOW.replace(hour=hour))
    cast = County(**{**vars(cast), "today": at})
    return events(cast, store.cases(store.shipped()), RollCall([], {}), Random(1))


@pytest.mark.parametrize("hour", [0, 3, 9, 14, 19, 23])
def test_at_any_hour_the_same_cases_are_open(cast: County, hour: int) -> None:
    told = day(cast, hour)
    reported = {event.incident for event in told if event.kind == "incident.reported"}
    closed = {event.incident for event in told if event.kind == "incident.closed"}
    assert (len(reported), len(reported - closed)) == (35, 12)


def test_the_same_seed_and_minute_give_the_same_day(cast: County) -> None:
    assert day(cast, 14) == day(cast, 14)


def test_a_folder_in_use_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("dear county")
    with pytest.raises(StateError, match="not empty"):
        build(tmp_path, NOW)
