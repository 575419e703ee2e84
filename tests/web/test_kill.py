"""A sample of killing the server under load; tests/benchmarks/kills.py runs the whole series."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest

from kb.base.clock import format_instant, now
from kb.base.ids import new_id
from kb.incidents.store.folder import open_folder
from tests.web.killing import kill_series

ROUNDS = 2


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
def test_nothing_acknowledged_is_lost_or_doubled(
    prepared: Path, sessions: dict[str, str], tmp_path: Path
) -> None:
    data = tmp_path / "county"
    shutil.copytree(prepared, data)
    incident = new_id()
    folder = open_folder(data)
    lead = folder.people.get("lead")
    entry = {
        "id": new_id(), "election": "now", "incident": incident, "kind": "incident.reported",
        "happened": format_instant(now()), "body": {"place": "P1"},
    }  # fmt: skip
    assert folder.record.take([entry], lead)[0].state == "new"
    folder.close()
    assert len(kill_series(data, sessions["lead"], incident, ROUNDS)) == ROUNDS
