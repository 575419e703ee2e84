"""Take the polling places of a VIP feed into the county, as if they came in places.csv."""

from __future__ import annotations

import zipfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from kb.base.errors import InputError, Problem
from kb.exchange import csv_out, vip
from kb.exchange.outgoing_store import export_table
from kb.exchange.store import Report, import_bytes, known_table
from kb.exchange.tables import PLACES
from kb.exchange.vip import LINKS, LOCATIONS, PRECINCTS, Feed
from kb.incidents.store import Folder
from kb.people.accounts import Account

KIND = "vip"
LARGEST = 200 * 1024**2


def take(
    folder: Folder, path: Path, *, actor: Account, election: str | None, check: bool = False
) -> Report:
    """Take a feed: an XML file, or a folder or zip of its CSV files.

    Raises InputError for a wrong election or file, Problems with every fault.
    """
    known_table(folder.record, "exposure", election)
    found = folder.record.election(str(election))
    if found is None:
        raise InputError(f"There is no election '{election}'.")
    if path.is_file() and not zipfile.is_zipfile(path):
        feed = vip.parse_xml(_bytes(path), str(path), found.date)
    else:
        feed = vip.parse_csv(_files(path), str(path))
    data = _merged(folder, feed)
    report = import_bytes(
        folder.record, folder.people, "places", data, str(path), actor=actor, check=check
    )
    said = (
        f"{feed.precincts} precincts, {feed.without_place} of them name no polling place; "
        f"{feed.drop_boxes} drop boxes were left out"
    )
    note = Problem(str(path), 0, "VIP02", said, warning=True)
    return replace(report, kind=KIND, warnings=(*report.warnings, note))


def _merged(folder: Folder, feed: Feed) -> bytes:
    """places.csv of the feed's places: what it does not know stays as the county has it."""
    names = [column.name for column in PLACES.columns]
    before = _present(folder)
    lines = []
    for row in feed.places:
        known = before.get(row["place"], {})
        lines.append([row.get(name) or known.get(name, "") for name in names])
    guarded = [[csv_out.guarded(PLACES, name, cell) for name, cell in zip(names, line, strict=True)]
               for line in lines]  # fmt: skip
    return csv_out.written(names, guarded)


def _present(folder: Folder) -> dict[str, Mapping[str, str]]:
    return {
        row["place"]: row
        for row in csv_out.cells_of(export_table(folder.record, folder.people, "places", None))
    }


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror}.") from None


def _files(path: Path) -> dict[str, str]:
    """The CSV files of a folder or a zip, by name."""
    wanted = (LOCATIONS, PRECINCTS, LINKS)
    try:
        if path.is_dir():
            return {
                name: (path / name).read_text(encoding="utf-8-sig")
                for name in wanted
                if (path / name).is_file()
            }
        with zipfile.ZipFile(path) as archive:
            infos = {Path(info.filename).name: info for info in archive.infolist()}
            if any(info.file_size > LARGEST for info in infos.values()):
                raise InputError(f"{path} unpacks to more than a feed can be; it is not read.")
            return {
                name: archive.read(infos[name]).decode("utf-8-sig")
                for name in wanted
                if name in infos
            }
    except (OSError, UnicodeDecodeError, zipfile.BadZipFile, RuntimeError) as error:
        raise InputError(f"{path} cannot be read as a feed: {error}.") from None
