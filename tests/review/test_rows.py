"""The words of a review, each on the plainest example of it."""

from __future__ import annotations

import pytest

from kb.incidents.places import Place
from kb.review.rows import UNKNOWN, case_of
from tests.review.conftest import Make
from tests.review.making import PLACES, at, case, material, turnout

KNOWN = {place.id: place for place in PLACES}


@pytest.mark.parametrize(
    ("known", "counted", "fault"),
    [
        ({"effect": "slowed"}, True, True),
        ({"effect": "none"}, True, False),
        ({}, True, True),
        ({"effect": "stopped", "outcome": "duplicate"}, False, False),
        ({"effect": "device", "duplicate_of": "I9"}, False, False),
        ({"effect": "none", "worst_effect": "slowed"}, True, True),
    ],
)
def test_counted_and_fault(row: Make, known: dict[str, str], counted: bool, fault: bool) -> None:
    found = case_of(row("I1", **known), KNOWN)
    assert (found.counted, found.fault) == (counted, fault)


def test_a_case_of_a_file_is_a_duplicate_by_its_outcome_alone(row: Make) -> None:
    told = row("I1", duplicate_of="I9", imported=True, outcome="fixed-by-phone")
    assert case_of(told, KNOWN).counted


def test_start_is_started_else_reported(row: Make) -> None:
    rows = [
        row("I1", started=at("07:55"), reported=at("08:00")),
        row("I2", reported=at("08:00")),
        row("I3"),
    ]
    assert [case_of(one, KNOWN).start for one in rows] == [at("07:55"), at("08:00"), None]


def test_what_is_not_told_is_a_group_of_its_own(row: Make) -> None:
    found = case_of(row("I1", place="P4"), KNOWN)
    assert (found.equipment, found.symptom, found.phase, found.effect) == (UNKNOWN,) * 4
    assert found.zone == UNKNOWN


def test_a_case_without_place_has_no_zone(row: Make) -> None:
    assert case_of(row("I1"), KNOWN).zone is None


def test_flags_article_and_the_times_of_a_rover_come_along(row: Make) -> None:
    told = row(
        "I1",
        flags=frozenset({"custody", "access"}),
        article="jam-at-exit",
        dispatched=at("08:04"),
        arrived=at("08:20"),
    )
    found = case_of(told, KNOWN)
    assert (found.flags, found.article) == ("access custody", "jam-at-exit")
    assert (found.dispatched, found.arrived) == (at("08:04"), at("08:20"))


def test_a_material_knows_its_counted_cases_and_its_faults() -> None:
    found = material([case("I1"), case("I2", effect="none"), case("I3", outcome="duplicate")])
    assert [one.id for one in found.counted] == ["I1", "I2"]
    assert [one.id for one in found.faults] == ["I1"]


def test_spares_are_not_deployed() -> None:
    assert material().deployed_count == {"scanner": 2, "bmd": 1}


def test_a_place_is_usable_when_its_ballots_are_known_and_over_zero() -> None:
    ballots = {"P2": 300, "P1": 500, "P3": 0, "P4": None, "P9": 70}
    assert material(turnout=turnout(ballots)).ballots == {"P1": 500, "P2": 300}


def test_a_place_without_zone_is_of_the_unknown_one() -> None:
    places = {"P1": Place(place="P1", name="One")}
    assert material(places=places).zone_of("P1") == UNKNOWN
