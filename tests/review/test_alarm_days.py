"""A sample of the simulated days of tests/benchmarks/alarms.py; README has the full figures."""

from __future__ import annotations

from tests.benchmarks.alarms import figures


def test_quiet_days_stay_quiet_and_planted_faults_are_found() -> None:
    found = figures(200, quiet=20, faulty=20)
    assert found.false.found <= 1
    assert found.found.found >= 18
    assert found.delay < 30
