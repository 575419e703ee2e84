"""Ten kills of the server while eight clients store entries; nothing may be lost or doubled.

And ten of a process whose eight threads append without a server between.

Run from a checkout: python -m tests.benchmarks.kills [ROUNDS]
"""

from __future__ import annotations

import sys
import tempfile
from datetime import datetime
from pathlib import Path
from random import Random

from kb.base.clock import now
from kb.demo.build import build
from kb.incidents.store.folder import open_folder
from tests.incidents.killing import kill_round, prepare
from tests.web.killing import kill_series

ROUNDS = 10


def main() -> int:
    """Print a line a round; exit status 1 where anything was lost, doubled or out of step."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    with tempfile.TemporaryDirectory() as name:
        faults = _ledger(Path(name), rounds)
        sys.stdout.write("\n".join(["through the server:", *_server(Path(name), rounds)]) + "\n")
    return 1 if faults else 0


def _server(folder: Path, rounds: int) -> list[str]:
    county = build(folder / "county", datetime.now().astimezone())
    lead = next(one for one in county.sign_ins if one.role == "lead")
    opened = open_folder(county.folder)
    cookie = opened.people.sign_in(lead.login, lead.password, now(), 8)
    incident = opened.record.incidents(county.election, status="open")[0].id
    opened.close()
    assert cookie
    return kill_series(county.folder, cookie, incident, rounds)


def _ledger(folder: Path, rounds: int) -> int:
    acknowledged: dict[str, int] = {}
    faults = 0
    path = folder / "county.db"
    prepare(path)
    for number in range(1, rounds + 1):
        found = kill_round(path, acknowledged, Random(number))
        fault = bool(found.lost) or not found.gapless or not found.rebuilt_equals_live
        faults += fault
        sys.stdout.write(
            f"kill {number}: {len(found.acknowledged)} acknowledged, "
            f"{len(found.stored)} stored, {len(found.lost)} lost, "
            f"{'gapless' if found.gapless else 'GAPS OR DOUBLES'}, "
            f"projection {'equal' if found.rebuilt_equals_live else 'DIFFERS'}\n"
        )
    return faults


if __name__ == "__main__":
    sys.exit(main())
