"""A sample of the simulated days of tests/benchmarks/dispatch.py; README has the full figure."""

from __future__ import annotations

from tests.benchmarks.dispatch import compared


def test_the_proposal_beats_first_come_first_served() -> None:
    ours, theirs, ratio, (_, high) = compared(days=8)
    assert ours < theirs
    assert ratio < 0.8
    assert high < 1
