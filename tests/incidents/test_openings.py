"""Custody gaps as they are defined for the review: order is by time happened."""

from __future__ import annotations

import pytest

from kb.incidents.fold import fold
from kb.incidents.openings import Opened, openings
from tests.incidents.telling import event

BIN = {"compartment": "emergency compartment"}


def opened(*told: tuple[str, dict[str, object], float]) -> tuple[Opened, ...]:
    return openings(fold([event(kind, body, minute=at) for kind, body, at in told]).timeline)


def witness(name: str, at: float) -> tuple[str, dict[str, object], float]:
    return "witness.named", {"name": name}, at


OPEN, CLOSE = ("compartment.opened", BIN, 0.0), ("compartment.closed", BIN, 10.0)
SEAL = ("seal.applied", {"seal": "K1", "where": "Emergency  compartment"}, 11.0)


def test_a_whole_opening_lacks_nothing() -> None:
    (one,) = opened(OPEN, witness("Ada Fenn", 1), witness("Bo Reed", 2), CLOSE, SEAL)
    assert one.lacks == ()
    assert one.seals == ("K1",)


@pytest.mark.parametrize(
    ("told", "lacks"),
    [
        ((OPEN,), ("witnesses", "closing", "seal")),
        ((OPEN, witness("Ada", 1), witness("Bo", 1), CLOSE), ("seal",)),
        ((OPEN, witness("Ada", 1), witness(" ADA", 2), CLOSE, SEAL), ("witnesses",)),
        # Named after the closing: too late for this opening.
        ((OPEN, witness("Ada", 1), witness("Bo", 12), CLOSE, SEAL), ("witnesses",)),
        # A seal that went on before the closing seals nothing.
        (
            (OPEN, witness("Ada", 1), witness("Bo", 1), ("seal.applied", SEAL[1], 5.0), CLOSE),
            ("seal",),
        ),
        # A seal of another compartment.
        (
            (
                OPEN, witness("Ada", 1), witness("Bo", 1), CLOSE,
                ("seal.applied", {"seal": "K1", "where": "main ballot box"}, 11.0),
            ),
            ("seal",),
        ),
        # A closing before the opening belongs to another one.
        ((("compartment.closed", BIN, -5.0), OPEN, witness("A", 1), witness("B", 1)),
         ("closing", "seal")),
    ],
)  # fmt: skip
def test_what_an_opening_lacks(told: tuple[tuple[str, dict[str, object], float], ...],
                               lacks: tuple[str, ...]) -> None:  # fmt: skip
    assert opened(*told)[0].lacks == lacks


def test_each_opening_needs_its_own_witnesses_and_seal() -> None:
    again = ("compartment.opened", BIN, 20.0)
    first, second = opened(
        OPEN, witness("Ada", 1), witness("Bo", 1), CLOSE, SEAL, again,
        ("compartment.closed", BIN, 30.0),
    )  # fmt: skip
    assert first.lacks == ()
    assert second.lacks == ("witnesses", "seal")


def test_what_was_struck_out_counts_for_nothing() -> None:
    closing = event("compartment.closed", BIN, minute=10)
    asked = event("correction.asked", {"event": closing.id, "reason": "slip"}, minute=11)
    strike = event(
        "event.corrected",
        {"event": closing.id, "reason": "slip", "asked": asked.id},
        minute=12,
        actor="le01",
    )
    told = [event("compartment.opened", BIN, minute=0), closing, asked, strike]
    assert "closing" in openings(fold(told).timeline)[0].lacks


@pytest.mark.parametrize("hidden", [0, 1, 2])
def test_a_withheld_name_is_still_a_witness(hidden: int) -> None:
    told = [event(kind, body, minute=minute) for kind, body, minute in (
        OPEN, witness("Ada Fenn", 1), witness("Bo Reed", 2), CLOSE, SEAL,
    )]  # fmt: skip
    told += [
        event("text.withheld", {"event": one.id, "reason": "r"}, minute=20)
        for one in told[1 : 1 + hidden]
    ]
    assert openings(fold(told).timeline)[0].lacks == ()


def test_one_witness_with_a_withheld_name_is_one() -> None:
    told = [event(kind, body, minute=minute) for kind, body, minute in (
        OPEN, witness("Ada Fenn", 1), CLOSE, SEAL,
    )]  # fmt: skip
    told.append(event("text.withheld", {"event": told[1].id, "reason": "r"}, minute=20))
    assert openings(fold(told).timeline)[0].lacks == ("witnesses",)
