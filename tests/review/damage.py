"""Spoils the files of a generated county, as real paper logs are spoiled: at random, by a seed."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from random import Random

Row = dict[str, str]
ENDS = (
    "fixed-by-phone", "fixed-on-site", "device-swapped", "contingency-to-close",
    "stopped-and-secured", "contingency-then-fixed", "not-equipment", "no-fault-found",
    "passed-to-supervisor", "duplicate", "",
)  # fmt: skip
MAY_LACK = (
    "place", "asset", "equipment", "symptom", "phase", "effect", "started_at", "reported_at",
    "restored_at",
)  # fmt: skip


def spoil(files: Path, seed: int) -> None:
    """Blank cells, impossible times, zero ballots, calls out of order; openings with gaps."""
    random = Random(seed)
    _each(files / "equipment.csv", lambda row: _equipment(row, random))
    for part in sorted(path for path in files.iterdir() if path.is_dir()):
        _each(part / "incidents.csv", lambda row: _incident(row, random))
        _each(part / "exposure.csv", lambda row: _exposure(row, random))
        _each(part / "calls.csv", lambda row: _call(row, random))
        _openings(part, random)


def _each(path: Path, change: Callable[[Row], None]) -> None:
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        names, rows = list(reader.fieldnames or ()), list(reader)
    for row in rows:
        change(row)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, names)
        writer.writeheader()
        writer.writerows(rows)


def _equipment(row: Row, random: Random) -> None:
    if random.random() < 0.1:
        row["batch"] = ""


def _incident(row: Row, random: Random) -> None:
    for name in MAY_LACK:
        if random.random() < 0.06:
            row[name] = ""
    if random.random() < 0.5:
        row["outcome"] = random.choice(ENDS)
    for name in ("started_at", "restored_at", "dispatched_at", "arrived_at"):
        if row[name] and random.random() < 0.08:
            row[name] = _moved(row[name], random.uniform(-90, 90))


def _exposure(row: Row, random: Random) -> None:
    for name in ("ballots", "sheets", "checkins"):
        if random.random() < 0.08:
            row[name] = random.choice(["", "0"])
    if row["opened_at"] and random.random() < 0.2:
        row["opened_at"] = _moved(row["opened_at"], random.uniform(-5, 40))


def _call(row: Row, random: Random) -> None:
    if random.random() < 0.1:
        row["answered_at"] = ""
    if random.random() < 0.1:
        row["ended_at"] = random.choice(["", _moved(row["started_at"], random.uniform(-2, 2))])


def _openings(part: Path, random: Random) -> None:
    """Openings of compartments, some without a witness, a closing or a seal."""
    with (part / "incidents.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["reported_at"]]
    lines = []
    for row in random.sample(rows, min(30, len(rows))):
        at = datetime.fromisoformat(row["reported_at"])

        def tell(minute: float, kind: str, row: Row = row, at: datetime = at, **body: str) -> None:
            happened = (at + timedelta(minutes=minute)).isoformat()
            lines.append(
                {"incident": row["incident"], "kind": kind, "happened": happened,
                 "actor": "office", "body": body}
            )  # fmt: skip

        for turn in range(random.choice((1, 1, 2))):
            begin = 40.0 * turn
            for name in random.sample(["Ada", "Bo", "Cleo", " ada "], random.choice((1, 2, 2, 3))):
                tell(begin + 1, "witness.named", name=name)
            tell(begin + 2, "compartment.opened", compartment="ballot box")
            if random.random() < 0.85:
                tell(begin + 20, "compartment.closed", compartment="ballot box")
                if random.random() < 0.85:
                    tell(begin + 21, "seal.applied", where="ballot box", seal=f"K{begin:.0f}")
    random.shuffle(lines)
    text = "".join(json.dumps(line) + "\n" for line in lines)
    (part / "events.jsonl").write_text(text, encoding="utf-8")


def _moved(text: str, minutes: float) -> str:
    moved = datetime.fromisoformat(text) + timedelta(minutes=minutes)
    return moved.isoformat(timespec="seconds")
