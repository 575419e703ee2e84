"""A data folder of an invented county with two places, two devices and two elections."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from kb.exchange.store import Report, import_table
from kb.incidents.store.folder import Folder, create, open_folder
from kb.people.accounts import Account

MANAGER = Account("m.one", "Em One", frozenset({"manager", "administrator"}))
CLASSES = frozenset({"scanner", "report-printer"})
FILES = {
    "elections": (
        "election,name,date,time_zone,opens,closes\n"
        "E1,Spring,2026-05-05,Etc/GMT+5,07:00,20:00\n"
        "E2,Fall,2026-11-03,Etc/GMT+5,07:00,20:00\n"
    ),
    "places": (
        "place,name,address,latitude,longitude,zone,phone,opens,closes,precincts,registered,"
        "expected_voters\n"
        "P01,Grange Hall,1 Alder Row,31.4,-41.6,Upland,555-0101,07:00,20:00,101 102,800,410\n"
        'P02,"Mill House, back door",,,,Ferry,,,,,,\n'
    ),
    "equipment": (
        "asset,equipment,model,batch,place,spare,seals,public_counter,protective_counter\n"
        "SC-1,scanner,desk A,SC-01,P01,no,K1 K2,0,20411\n"
        "RP-1,report-printer,,,,yes,,,\n"
    ),
}
Take = Callable[..., Report]


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Folder]:
    create(tmp_path / "county", "")
    opened = open_folder(tmp_path / "county")
    yield opened
    opened.close()


@pytest.fixture
def take(folder: Folder, tmp_path: Path) -> Take:
    """Import a text as a file of a kind."""

    def run(kind: str, text: str | None, *, path: Path | None = None, **options: object) -> Report:
        if path is None:
            path = tmp_path / f"{kind}.csv"
            path.write_text(text or "", encoding="utf-8", newline="")
        options = {"actor": MANAGER, "classes": CLASSES} | options
        return import_table(folder.record, folder.people, kind, path, **options)  # type: ignore[arg-type]

    return run


@pytest.fixture
def loaded(take: Take) -> Take:
    """The same, with elections, places and equipment in the record."""
    for kind, text in FILES.items():
        take(kind, text)
    return take
