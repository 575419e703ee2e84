"""A kill in the middle of publishing: the old or the new text is in force, whole."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from random import Random

import pytest

from kb.authoring.store import Editions, migrations
from kb.base.database import Store, connect
from tests.authoring.publisher import text
from tests.authoring.telling import SLUG

ROOT = Path(__file__).parents[2]
ROUNDS = 5


def kill_while_publishing(path: Path, random: Random) -> list[str]:
    """What the publisher said before the kill, which falls right after an edit is handed in."""
    command = [sys.executable, "-m", "tests.authoring.publisher", str(path)]
    said: list[str] = []
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        wanted = random.randrange(2, 6)
        while sum(line.startswith("handed-in") for line in said) < wanted:
            line = process.stdout.readline()
            assert line, f"the publisher ended by itself after {said[-3:]}"
            said.append(line)
        time.sleep(random.random() * 0.004)
        os.kill(process.pid, signal.SIGKILL)
        said += process.stdout
    return [line.strip() for line in said if line.endswith("\n")]


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
def test_never_half(tmp_path: Path) -> None:
    path = tmp_path / "county.db"
    database = connect(path)
    migrations.apply(database)
    database.close()
    for seed in range(ROUNDS):
        said = kill_while_publishing(path, Random(seed))
        store = Store(path)
        editions = Editions(store)
        history = editions.history(SLUG)
        in_force = editions.published()[SLUG]
        assert in_force.text == text(len(history))
        assert [one.text for one in history] == [text(n) for n in range(len(history), 0, -1)]
        acknowledged = {line.split()[1] for line in said if line.startswith("published")}
        assert acknowledged <= {one.edit for one in history}
        last = said[-1].split()[1]
        edit = editions.edit(last)
        published = {one.edit for one in history}
        assert edit.state == ("published" if last in published else "handed-in")
        assert edit.text == text(int(last.split("-")[0]))
        store.close()
