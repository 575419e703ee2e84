"""A story is told in the order in which such a thing is done."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import pytest

from kb.demo.case import Case, Site, Told, story
from kb.demo.clock import Today

NOON = Today(datetime(2026, 11, 3, 12, 0, tzinfo=UTC), "Etc/GMT")
SITE = Site(
    phone="555-0127",
    asset="SC-1",
    call="c",
    answerer="hotline.a",
    lead="lead.a",
    counter=210,
    phase="voting",
    started=NOON.at("11:00"),
    seal_off="K1",
    seal_on="K2",
    witnesses=({"name": "Una"}, {"name": "Rolf"}),
)
JAM: Mapping[str, Any] = {
    "place": "P27",
    "equipment": "scanner",
    "symptom": "jam",
    "effect": "slowed",
    "article": "jam-at-exit",
    "words": "it swallowed one",
    "caller": "judge",
    "ago": 40,
}
OPENED = {
    "rover": "rover.a",
    "sent": 3,
    "arrives": 15,
    "restored": 30,
    "outcome": "fixed-on-site",
    "opened": "ballot box",
}


def told(**more: Any) -> list[Told]:
    return sorted(story(Case(**{**JAM, **more}), SITE), key=lambda one: one.minute)


def kinds(**more: Any) -> list[str]:
    return [one.kind for one in told(**more)]


@pytest.mark.parametrize(
    ("given", "clock"),
    [
        ({"at": "06:05", "ago": 0}, "06:05"),
        ({"ago": 25}, "11:35"),
        # From 07:20 until 11:20 are 240 minutes.
        ({"share": 0.25, "ago": 0}, "08:20"),
    ],
)
def test_when_it_is_reported(given: dict[str, Any], clock: str) -> None:
    assert Case(**{**JAM, **given}).reported(NOON) == NOON.at(clock)


def test_seal_and_witnesses_come_before_opening_and_a_new_seal_after_closing() -> None:
    assert kinds(**OPENED)[5:] == [
        "call.ended",
        "rover.sent",
        "rover.arrived",
        "counter.read",
        "seal.removed",
        "witness.named",
        "witness.named",
        "compartment.opened",
        "compartment.closed",
        "seal.applied",
        "counter.read",
        "voting.restored",
        "incident.closed",
    ]


@pytest.mark.parametrize(
    ("gap", "kind", "left"),
    [
        ({"witnesses": 1}, "witness.named", 1),
        ({"sealed": False}, "seal.applied", 0),
        ({"shut": False}, "compartment.closed", 0),
    ],
)
def test_planted_gaps_leave_one_thing_out(gap: dict[str, Any], kind: str, left: int) -> None:
    assert kinds(**{**OPENED, **gap}).count(kind) == left


def test_an_open_case_has_no_end() -> None:
    assert not {"voting.restored", "incident.closed"} & set(kinds())


def test_a_question_closes_without_restoring_but_with_a_reason() -> None:
    end = told(effect="none", restored=6, outcome="not-equipment")
    assert "voting.restored" not in [one.kind for one in end]
    assert end[-1].body["reason"]
