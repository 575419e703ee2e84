"""Ten kills of a process whose eight threads append: nothing acknowledged may be lost.

Run from a checkout: python -m tests.benchmarks.kills [ROUNDS]
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from random import Random

from tests.incidents.killing import kill_round, prepare

ROUNDS = 10


def main() -> int:
    """Print a line a round; exit status 1 where anything was lost, doubled or out of step."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    acknowledged: dict[str, int] = {}
    faults = 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "county.db"
        prepare(path)
        for number in range(1, rounds + 1):
            found = kill_round(path, acknowledged, Random(number))
            fault = bool(found.lost) or not found.gapless or not found.rebuilt_equals_live
            faults += fault
            print(  # noqa: T201 - a script's output
                f"kill {number}: {len(found.acknowledged)} acknowledged, "
                f"{len(found.stored)} stored, {len(found.lost)} lost, "
                f"{'gapless' if found.gapless else 'GAPS OR DOUBLES'}, "
                f"projection {'equal' if found.rebuilt_equals_live else 'DIFFERS'}"
            )
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
