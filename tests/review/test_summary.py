"""The first summary, worked by hand on a small election."""

from __future__ import annotations

import pytest

from kb.incidents.rows import Row
from kb.review.rows import Material, material
from kb.review.summary import NO_BALLOTS, RateLine, summarise
from tests.review.conftest import DEVICES, ELECTION, EXPOSURES, PLACES, Make


@pytest.fixture
def rows(row: Make) -> list[Row]:
    """Six faults at usable places, one at a place without ballots, one without place."""
    jams = [
        row(f"I{n}", place="P1", equipment="scanner", symptom="jam", effect="slowed")
        for n in range(5)
    ]
    return [
        *jams,
        row("I5", place="P2", equipment="bmd", symptom="touch-off", effect="device"),
        row("I6", place="P3", equipment="scanner", symptom="jam", effect="device"),
        row("I7", equipment="scanner", symptom="jam", effect="device"),
        row("I8", place="P2", equipment="scanner", symptom="jam", effect="none"),
        row("I9", place="P1", equipment="scanner", effect="slowed", outcome="duplicate"),
    ]


@pytest.fixture
def whole(rows: list[Row]) -> Material:
    return material(ELECTION, rows, PLACES, DEVICES, EXPOSURES)


def test_totals(whole: Material) -> None:
    totals = summarise(whole).totals
    assert (totals.rows, totals.duplicates, totals.counted, totals.faults) == (10, 1, 9, 8)


def test_rates_take_usable_places_alone(whole: Material) -> None:
    found = summarise(whole).rates
    assert found is not None
    # 6 faults on 800 ballots; two faults and the places P3 and P4 are left out.
    assert found.overall.rate.value == pytest.approx(7.5)
    assert (found.left_out, found.places_without_ballots) == (2, ("P3", "P4"))
    assert [(line.key, line.rate.count) for line in found.by_zone] == [("East", 6)]
    of_class = {line.key: (line.rate.count, line.rate.exposure) for line in found.by_equipment}
    assert of_class == {"scanner": (5, 800), "bmd": (1, 800)}


def test_few_faults_are_said_to_be_few(whole: Material) -> None:
    found = summarise(whole).rates
    assert found is not None
    of_class = {line.key: line.rate for line in found.by_equipment}
    assert of_class["bmd"].too_few
    assert not of_class["scanner"].too_few
    # 5 on 800 with Garwood's 1.623 and 11.668 over 0.8 thousand.
    scanner = of_class["scanner"]
    assert (scanner.value, round(scanner.low, 2), round(scanner.high, 2)) == (6.25, 2.03, 14.59)


def test_devices_count_every_fault_of_their_class(whole: Material) -> None:
    found = {line.key: line.rate.value for line in summarise(whole).per_devices}
    assert found == {"bmd": 100.0, "scanner": 350.0}


def test_places_stand_by_id_not_by_rate(whole: Material) -> None:
    found = summarise(whole)
    assert [count.key for count in found.by_place] == ["P1", "P2", "P3", "(unknown)"]
    assert not any(isinstance(line, RateLine) for line in found.by_place)


def test_without_ballots_there_is_no_rate(rows: list[Row]) -> None:
    found = summarise(material(ELECTION, rows, PLACES, DEVICES, ()))
    assert found.rates is None
    assert found.rates_note == NO_BALLOTS


def test_an_empty_election_sums_up_to_nothing() -> None:
    found = summarise(material(ELECTION, (), (), (), ()))
    assert found.totals.rows == 0
    assert found.by_hour == ()
    assert found.per_devices == ()
