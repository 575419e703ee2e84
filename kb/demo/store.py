"""Reads the invented county's data and writes its tables as an import takes them."""

from __future__ import annotations

import csv
import json
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from kb.demo.case import Case
from kb.demo.clock import Today
from kb.exchange.tables import header


def shipped() -> Path:
    """The folder of the demo's data: in an installed program, else the checkout's."""
    package = Path(__file__).parent.parent
    installed = package / "_shipped" / "demo"
    return installed if installed.is_dir() else package.parent / "demo"


def county(folder: Path) -> dict[str, Any]:
    """What `county.toml` says."""
    return tomllib.loads((folder / "county.toml").read_text(encoding="utf-8"))


def cases(folder: Path) -> list[Case]:
    """The scripted cases of `day.toml`."""
    told = tomllib.loads((folder / "day.toml").read_text(encoding="utf-8"))
    return [Case(**case | {"flags": tuple(case.get("flags", ()))}) for case in told["case"]]


def write_elections(path: Path, told: Mapping[str, Any], today: Today) -> Path:
    """The past elections and today's, as elections.csv."""
    rows = [
        [one["id"], one["name"], _day(today, one.get("days_before", 0)), today.zone,
         one["opens"], one["closes"]]
        for one in (*told["past"], told["today"])
    ]  # fmt: skip
    _write(path, header("elections")[:6], rows)
    return path


def write_dated(source: Path, path: Path, today: Today, days_before: int) -> Path:
    """A table whose clock times and empty date column are set to a day in the past."""
    with source.open(encoding="utf-8", newline="") as file:
        names, *rows = csv.reader(file)

    def dated(name: str, cell: str) -> str:
        if name == "date":
            return _day(today, days_before)
        return today.at(cell, days_before).isoformat() if name.endswith("_at") and cell else cell

    _write(path, names, ([dated(*pair) for pair in zip(names, row, strict=True)] for row in rows))
    return path


def tables_of(folder: Path) -> list[str]:
    """The tables that a past election has, in the order in which a county imports them."""
    return [
        kind for kind in ("exposure", "incidents", "calls") if (folder / f"{kind}.csv").is_file()
    ]


def write_dated_events(source: Path, path: Path, today: Today, days_before: int) -> Path:
    """Events whose clock times are set to a day in the past."""
    events = map(json.loads, source.read_text(encoding="utf-8").splitlines())
    dated = (
        event | {"happened": today.at(event["happened"], days_before).isoformat()}
        for event in events
    )
    path.write_text("".join(f"{json.dumps(event)}\n" for event in dated), encoding="utf-8")
    return path


def _day(today: Today, days_before: int) -> str:
    return today.at("00:00", days_before).date().isoformat()


def _write(path: Path, names: Iterable[str], rows: Iterable[Iterable[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file)
        table.writerow(names)
        table.writerows(rows)
