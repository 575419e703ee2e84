"""The words of a review, each on the plainest example of it."""

from __future__ import annotations

import pytest

from kb.review.rows import UNKNOWN, material
from tests.review.conftest import DEVICES, ELECTION, EXPOSURES, PLACES, Make, at


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
    case = material(ELECTION, [row("I1", **known)], PLACES, (), ()).cases[0]
    assert (case.counted, case.fault) == (counted, fault)


def test_start_is_started_else_reported(row: Make) -> None:
    rows = [
        row("I1", started=at("07:55"), reported=at("08:00")),
        row("I2", reported=at("08:00")),
        row("I3"),
    ]
    starts = [case.start for case in material(ELECTION, rows, PLACES, (), ()).cases]
    assert starts == [at("07:55"), at("08:00"), None]


def test_what_is_not_told_is_a_group_of_its_own(row: Make) -> None:
    case = material(ELECTION, [row("I1", place="P4")], PLACES, (), ()).cases[0]
    assert (case.equipment, case.symptom, case.phase, case.effect) == (UNKNOWN,) * 4
    assert case.zone == UNKNOWN


def test_a_case_without_place_has_no_zone(row: Make) -> None:
    assert material(ELECTION, [row("I1")], PLACES, (), ()).cases[0].zone is None


def test_spares_are_not_deployed() -> None:
    assert material(ELECTION, (), PLACES, DEVICES, ()).deployed == {"scanner": 2, "bmd": 1}


def test_a_place_is_usable_when_its_ballots_are_known_and_over_zero() -> None:
    assert material(ELECTION, (), PLACES, (), EXPOSURES).ballots == {"P1": 500, "P2": 300}


def test_ballots_of_several_voting_days_add_up() -> None:
    more = EXPOSURES[0].model_copy(update={"date": ELECTION.date.replace(day=4), "ballots": 40})
    assert material(ELECTION, (), PLACES, (), [*EXPOSURES, more]).ballots["P1"] == 540
