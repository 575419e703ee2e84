"""A sample of the kill series; tests/benchmarks/kills.py runs the whole of it."""

from __future__ import annotations

import sys
from pathlib import Path
from random import Random

import pytest

from tests.incidents.killing import kill_round, prepare

ROUNDS = 2


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
def test_what_was_acknowledged_survives_a_kill(tmp_path: Path) -> None:
    path, acknowledged = tmp_path / "county.db", dict[str, int]()
    prepare(path)
    for seed in range(ROUNDS):
        known = len(acknowledged)
        found = kill_round(path, acknowledged, Random(seed))
        assert len(acknowledged) > known + 15
        assert found.lost == set()
        assert found.gapless
        assert found.rebuilt_equals_live
