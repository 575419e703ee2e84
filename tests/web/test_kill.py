"""Samples of killing the server under load, and of losing its machine; the series are in
tests/benchmarks/kills.py.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest

from kb.base.clock import format_instant, now
from kb.base.ids import new_id
from kb.incidents.store.folder import open_folder
from tests.web.killing import kill_series, lose_machine

ROUNDS = 3


@pytest.fixture
def data(prepared: Path, tmp_path: Path) -> Path:
    """A county's folder of its own."""
    path = tmp_path / "county"
    shutil.copytree(prepared, path)
    return path


@pytest.fixture
def incident(data: Path) -> str:
    """A case in it."""
    identifier = new_id()
    folder = open_folder(data)
    entry = {
        "id": new_id(), "election": "now", "incident": identifier, "kind": "incident.reported",
        "happened": format_instant(now()), "body": {"place": "P1"},
    }  # fmt: skip
    assert folder.record.take([entry], folder.people.get("lead"))[0].state == "new"
    folder.close()
    return identifier


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
def test_nothing_acknowledged_is_lost_or_doubled(
    data: Path, incident: str, sessions: dict[str, str]
) -> None:
    assert len(kill_series(data, sessions["lead"], "now", incident, ROUNDS)) == ROUNDS


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="Litestream's wheel is for Linux")
def test_when_the_machine_is_lost_the_standby_goes_on(
    data: Path, incident: str, sessions: dict[str, str], tmp_path: Path
) -> None:
    lost = lose_machine(data, tmp_path / "second", sessions["lead"], "now", incident)
    # What phones were told is safe is there; after they sent the rest again, everything is.
    assert lost.told > 100
    assert lost.safe_missing == 0
    assert lost.missing_after == 0
