"""What a case lacks before it is closed. Two witnesses and a new seal: common practice."""

from __future__ import annotations

import pytest

from kb.incidents.complete import lacking
from kb.incidents.fold import fold
from tests.incidents.telling import event

BIN = "emergency compartment"
Told = tuple[str, dict[str, object]]


def codes(*told: Told) -> list[str]:
    events = [event(kind, body, minute=at) for at, (kind, body) in enumerate(told)]
    return [one.code for one in lacking(fold(events), lambda asset: asset.startswith("SC"))]


def read(asset: str, moment: str, public: int) -> Told:
    return "counter.read", {"asset": asset, "moment": moment, "public": public}


def tallied(stored: int, accepted: int, returned: int) -> Told:
    return "ballots.tallied", {"stored": stored, "accepted": accepted, "returned": returned}


RESTARTED: tuple[Told, ...] = (
    ("incident.reported", {"equipment": "scanner", "asset": "SC-1"}),
    ("incident.described", {"symptom": "restarted"}),
)
SWAP: Told = ("device.swapped", {"old": "SC-1", "new": "SC-9"})
MOVED: Told = ("ballots.moved", {"from": BIN, "to": "scanner"})


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ((("note.added", {"text": "all quiet"}),), []),
        ((("compartment.opened", {"compartment": BIN}),), ["witnesses", "closing"]),
        ((SWAP,), ["counter", "counter"]),
        ((read("SC-1", "before", 10), SWAP), ["counter"]),
        ((read("SC-1", "before", 10), SWAP, read("SC-9", "after", 0)), []),
        ((("device.swapped", {"old": "PB-1", "new": "PB-2"}),), []),
        (RESTARTED, ["counter"]),
        ((*RESTARTED, read("SC-1", "before", 10), read("SC-1", "after", 10)), []),
        ((*RESTARTED, read("SC-1", "before", 10), read("SC-1", "after", 11)), ["counter-differs"]),
        ((MOVED,), ["tally"]),
        ((MOVED, tallied(23, 20, 3)), []),
        ((MOVED, tallied(23, 20, 2)), ["tally"]),
        ((MOVED, ("ballots.tallied", {"stored": 23})), ["tally"]),
        ((read("SC-1", "before", 400), tallied(23, 20, 3), read("SC-1", "after", 420)), []),
        (
            (read("SC-1", "before", 400), tallied(23, 20, 3), read("SC-1", "after", 419)),
            ["tally-counter"],
        ),
        # Counted again: the last tally holds.
        ((MOVED, tallied(23, 20, 2), tallied(23, 20, 3)), []),
    ],
)
def test_what_lacks(told: tuple[Told, ...], expected: list[str]) -> None:
    assert codes(*told) == expected


def test_a_decision_to_restart_asks_for_counters_too() -> None:
    decided = event(
        "decision.made",
        {"text": "once", "about": "restart", "who_else": "the chief judge"},
        actor="le01",
        minute=1,
    )
    case = fold([event(*RESTARTED[0]), decided])
    assert [one.code for one in lacking(case, lambda _: True)] == ["counter"]
