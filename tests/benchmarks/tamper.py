"""Tamper with a record of 10,000 entries, 200 random tries each way; verify must find every one.

Run from a checkout: python -m tests.benchmarks.tamper [ENTRIES] [TRIES]
"""

from __future__ import annotations

import sys
import tempfile
from multiprocessing import Pool
from pathlib import Path
from random import Random

from kb.base.clock import now
from kb.exchange.record import store
from kb.exchange.record.verify import verify
from kb.incidents.store.folder import create, open_folder
from tests.exchange.record.conftest import told
from tests.exchange.record.tampering import WAYS
from tests.incidents.telling import county

ENTRIES, TRIES = 10_000, 200
PROCESSES = 2
_files: dict[str, bytes] = {}


def main() -> int:
    """Print how many of the tries were found, and how many with their place."""
    entries = int(sys.argv[1]) if len(sys.argv) > 1 else ENTRIES
    tries = int(sys.argv[2]) if len(sys.argv) > 2 else TRIES
    with tempfile.TemporaryDirectory() as name:
        _files.update(_record(Path(name), entries))
    assert verify(_files).holds
    failed = 0
    with Pool(PROCESSES) as pool:
        for way in WAYS:
            found = pool.map(_try, [(way, seed) for seed in range(tries)], chunksize=5)
            placed = sum(place for _, place in found)
            caught = sum(fault for fault, _ in found)
            failed += tries - placed
            sys.stdout.write(f"{way}: {tries} tries, {caught} found, {placed} with the place\n")
            sys.stdout.flush()
    return 1 if failed else 0


def _try(case: tuple[str, int]) -> tuple[bool, bool]:
    way, seed = case
    changed, place = WAYS[way](_files, Random(seed))
    faults = verify(changed).faults
    return bool(faults), any(place in fault for fault in faults)


def _record(folder: Path, entries: int) -> dict[str, bytes]:
    create(folder / "county", "")
    opened = open_folder(folder / "county")
    opened.record.append(county())
    cases = told(entries // 5)
    for begin in range(0, len(cases), 500):
        opened.record.append(cases[begin : begin + 500])  # type: ignore[arg-type]
        if begin % 2_500 == 0:
            opened.checkpoints.make("e26", "asked", now())
    store.export(opened, "e26", folder / "r.zip", {}, public=False, now=now())
    opened.close()
    return store.read(folder / "r.zip")


if __name__ == "__main__":
    sys.exit(main())
