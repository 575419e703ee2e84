"""Kill the appender at a random moment and look what the ledger holds."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from random import Random

from kb.base.database import Store
from kb.incidents.store import Record
from tests.incidents.telling import county

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Round:
    """What one kill left: acknowledged entries (id, number), and the ledger's (id, number)."""

    acknowledged: Mapping[str, int]
    stored: list[tuple[str, int]]
    rebuilt_equals_live: bool

    @property
    def lost(self) -> set[str]:
        """Acknowledged entries that are not there under their number."""
        return set(self.acknowledged.items() - set(self.stored))  # type: ignore[arg-type]

    @property
    def gapless(self) -> bool:
        """Whether the numbers run 1, 2, 3 ... and no id stands twice."""
        numbers, ids = [number for _, number in self.stored], {name for name, _ in self.stored}
        return numbers == list(range(1, len(numbers) + 1)) and len(ids) == len(numbers)


def prepare(path: Path) -> None:
    """A database with the invented county."""
    store = Store(path)
    Record(store).append(county())
    store.close()


def kill_round(path: Path, acknowledged: dict[str, int], random: Random) -> Round:
    """Append with 8 threads, kill after a random number of acknowledgements, reopen, compare.

    `acknowledged` grows from round to round: what an earlier round got must still be there.
    """
    command = [sys.executable, "-m", "tests.incidents.appender", str(path)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        for _ in range(random.randrange(20, 120)):
            _note(acknowledged, process.stdout.readline())
        os.kill(process.pid, signal.SIGKILL)
        # What was printed before the kill was acknowledged; a torn last line was not read.
        for line in process.stdout:
            _note(acknowledged, line)
    return _look(path, acknowledged)


def _note(acknowledged: dict[str, int], line: str) -> None:
    if line.endswith("\n"):
        name, number = line.split()
        acknowledged[name] = int(number)


def _look(path: Path, acknowledged: Mapping[str, int]) -> Round:
    store = Store(path)
    record = Record(store)
    query = "SELECT id, sequence FROM ledger WHERE log = 'e26' ORDER BY sequence"
    stored = [(str(name), int(number)) for name, number in store.read().execute(query)]
    live = record.digest()
    record.rebuild()
    same = record.digest() == live
    store.close()
    return Round(dict(acknowledged), stored, same)
