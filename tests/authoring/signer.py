"""Signs one worksheet after the other, until it is killed; says the version once it is stored."""

from __future__ import annotations

import sys
from datetime import UTC, date, datetime
from pathlib import Path

from kb.authoring import worksheet
from kb.authoring.sheet import Sheet, Signature
from kb.authoring.worksheet import Act
from kb.authoring.worksheet_store import Worksheets
from kb.base.database import Store

ANSWERS = 200


def sheet(version: int) -> Sheet:
    """Version `version`: every answer says so, that half a sheet would show."""
    return Sheet("fall", {f"rule-{number}": version % 2 == 0 for number in range(ANSWERS)})


def main(path: Path) -> None:
    """Sign for ever."""
    worksheets = Worksheets(Store(path))
    act = Act("ann", datetime(2026, 10, 1, tzinfo=UTC))
    signature = Signature("Dana Quill", "County counsel", date(2026, 10, 1))
    while True:
        given = sheet(worksheets.version() + 1)
        worksheets.take(
            "fall",
            lambda before, given=given: worksheet.save(before, act, given),
            lambda before: worksheet.sign(before, act, signature),
        )
        sys.stdout.write(f"{worksheets.version()}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
