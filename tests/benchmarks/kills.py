"""Ten kills of the server while twelve phones send entries, a fifth of the answers dropped.

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
from tests.web.killing import kill_series, lose_machine

ROUNDS = 10
LOSSES = 5


def main() -> int:
    """Print a line a round; exit status 1 where anything was lost, doubled or out of step."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    with tempfile.TemporaryDirectory() as name:
        faults = _ledger(Path(name), rounds)
        sys.stdout.write("\n".join(["through the server:", *_server(Path(name), rounds)]) + "\n")
        sys.stdout.write("the machine lost, the standby goes on:\n")
        for pause in (0.25, 0.0):
            sys.stdout.write(f"phones pause {pause} s between sendings:\n")
            for number in range(LOSSES):
                told = _machine(Path(name) / f"lost-{pause}-{number}", pause)
                sys.stdout.write(f"{told}\n")
    return 1 if faults else 0


def _server(folder: Path, rounds: int) -> list[str]:
    county = build(folder / "county", datetime.now().astimezone())
    lead = next(one for one in county.sign_ins if one.role == "lead")
    opened = open_folder(county.folder)
    signed = opened.people.sign_in(lead.login, lead.password, now(), 8)
    incident = opened.record.incidents(county.election, status="open")[0].id
    opened.close()
    assert signed
    return kill_series(county.folder, signed.token, county.election, incident, rounds)


def _machine(folder: Path, pause: float = 0.0) -> str:
    folder.mkdir()
    county = build(folder / "county", datetime.now().astimezone())
    lead = next(one for one in county.sign_ins if one.role == "lead")
    opened = open_folder(county.folder)
    signed = opened.people.sign_in(lead.login, lead.password, now(), 8)
    incident = opened.record.incidents(county.election, status="open")[0].id
    opened.close()
    assert signed
    lost = lose_machine(
        county.folder, folder / "second", signed.token, county.election, incident, pause
    )
    return (
        f"{lost.told} receipts; missing on the standby {lost.missing} "
        f"({lost.seconds:.2f} s), of those told to be safe {lost.safe_missing}; "
        f"after phones sent again {lost.missing_after}; the next server after {lost.took:.1f} s"
    )


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
