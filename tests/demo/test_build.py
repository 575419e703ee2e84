"""The invented county as it is built: what it promises to hold, and what is planted in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from statistics import median

import pytest
from scipy.stats import fisher_exact, poisson

from kb.base.errors import StateError
from kb.demo import store
from kb.demo.build import DemoCounty, build
from kb.demo.clock import today
from kb.demo.day import County, RollCall, events
from kb.incidents.events import Event
from kb.incidents.store.folder import Folder, open_folder
from kb.library import store as library_store
from kb.people.roles import ROLES
from kb.review.rows import Case, Material
from kb.review.store import read, summary

NOW = datetime(2026, 11, 3, 16, 10, tzinfo=UTC)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> DemoCounty:
    return build(tmp_path_factory.mktemp("demo") / "county", NOW)


@pytest.fixture(scope="module")
def county(made: DemoCounty) -> Iterator[Folder]:
    opened = open_folder(made.folder)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def before(made: DemoCounty, county: Folder) -> Material:
    return read(county.record, county.record.election(made.past_election))


def now_open(made: DemoCounty, county: Folder) -> list[str]:
    rows = county.record.incidents(made.election, status="open", now=NOW)
    return [row.place or "" for row in rows]


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


# What is planted in the election before, by the test that a review would use.


def test_bad_batch_of_report_printers(before: Material, county: Folder) -> None:
    batch = {
        d.asset: d.batch
        for d in county.record.devices()
        if d.equipment == "report-printer" and d.place
    }
    failed = {case.asset for case in before.faults}
    table = [[0, 0], [0, 0]]
    for asset, name in batch.items():
        table[name != "RP-07"][asset not in failed] += 1
    assert table == [[6, 4], [1, 34]]
    assert fisher_exact(table, "greater").pvalue < 1e-3


def minutes(case: Case) -> float:
    assert case.restored is not None
    assert case.start is not None
    return (case.restored - case.start) / timedelta(minutes=1)


def test_slow_zone(before: Material) -> None:
    done = [case for case in before.faults if case.restored and case.start]
    slow = [minutes(case) for case in done if case.zone == "Saltmarsh"]
    rest = [minutes(case) for case in done if case.zone != "Saltmarsh"]
    assert len(slow) >= 7
    assert median(slow) > 2 * median(rest)


def test_one_truly_high_place_and_tiny_ones_with_a_higher_raw_rate(before: Material) -> None:
    faults = Counter(case.place for case in before.faults)
    total = sum(faults[place] for place in before.ballots) / sum(before.ballots.values())
    tail = {
        place: float(poisson.sf(faults[place] - 1, total * number))
        for place, number in before.ballots.items()
    }
    assert [place for place, p in tail.items() if p <= 0.001] == ["P27"]
    high = faults["P27"] / before.ballots["P27"]
    for place in ("P08", "P21", "P38", "P45"):
        assert faults[place] == 1
        assert faults[place] / before.ballots[place] > high


def test_incomplete_record(before: Material, made: DemoCounty, county: Folder) -> None:
    found = summary(county.record, county.record.election(made.past_election))
    assert (found.totals.rows, found.totals.duplicates, found.totals.open) == (63, 1, 1)
    assert found.rates is not None
    assert found.rates.places_without_ballots == ("P39",)
    assert sum(case.started is None for case in before.cases) == 1


def test_before_todays_ballots_are_known_the_rates_are_those_of_the_election_before(
    made: DemoCounty, county: Folder
) -> None:
    found = summary(county.record, county.record.election(made.election))
    assert found.rates is not None
    assert found.rates.election.id == made.past_election
    assert "no ballots known yet" in found.rates_note


def test_the_demo_names_articles_that_the_starter_library_has(
    made: DemoCounty, county: Folder
) -> None:
    slugs = {path.stem for path in library_store.shipped().rglob("*.md")}
    for election in (made.election, made.past_election):
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
