"""The agreed rules of dispatch, one line each: 1 is at once, 4 can wait."""

from __future__ import annotations

from typing import Any

import pytest

from kb.incidents.incident import Incident
from kb.incidents.priority import RULES, priority, rule_for

CASES: list[tuple[int, dict[str, Any], float | None]] = [
    # 1: safety, stopped, custody with ballots inside, what blocks opening within 60 minutes.
    (1, {"flags": frozenset({"safety"}), "effect": "none"}, None),
    (1, {"effect": "stopped"}, None),
    (1, {"flags": frozenset({"custody"}), "ballots_inside": True}, None),
    (1, {"blocks_opening": True}, 60),
    (1, {"blocks_opening": True}, -15),
    (1, {"blocks_opening": True}, None),
    (1, {"symptom": "site-locked", "phase": "set-up"}, 45),
    (1, {"symptom": "will-not-open", "phase": "opening"}, 10),
    # 2: access, ballots, custody, last working unit, stored ballots grow, wait over 20 minutes.
    (2, {"flags": frozenset({"access"}), "effect": "device"}, None),
    (2, {"flags": frozenset({"ballots"}), "effect": "none"}, None),
    (2, {"flags": frozenset({"custody"})}, None),
    (2, {"flags": frozenset({"custody"}), "ballots_inside": False}, None),
    (2, {"last_of_class": True, "effect": "device"}, None),
    (2, {"stored_growing": True, "effect": "slowed"}, None),
    (2, {"effect": "slowed", "wait_minutes": 21}, None),
    # 3: other slowed. 4: the rest.
    (3, {"effect": "slowed", "wait_minutes": 20}, None),
    (3, {"effect": "slowed"}, None),
    (4, {"effect": "device"}, None),
    (4, {"effect": "device", "wait_minutes": 25}, None),
    (4, {"effect": "none"}, None),
    (4, {"flags": frozenset({"law"})}, None),
    (4, {"blocks_opening": True}, 61),
    (4, {"symptom": "site-locked", "phase": "closing"}, -800),
    (4, {}, None),
]


@pytest.mark.parametrize(("expected", "facts", "minutes"), CASES)
def test_priority(expected: int, facts: dict[str, Any], minutes: float | None) -> None:
    assert priority(Incident(**facts), minutes) == expected


def test_every_rule_decides_some_case() -> None:
    deciding = {rule_for(Incident(**facts), minutes).words for _, facts, minutes in CASES}
    assert deciding == {rule.words for rule in RULES}


def test_the_table_runs_from_urgent_to_not() -> None:
    grades = [rule.priority for rule in RULES]
    assert grades == sorted(grades)
    assert set(grades) == {1, 2, 3, 4}
