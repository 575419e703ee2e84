"""A record with three checkpoints, made once, and the demo's county for what may be public."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from kb.base.clock import now
from kb.demo.build import build
from kb.exchange.record import store
from kb.incidents.store.folder import Folder, create, open_folder
from tests.incidents.telling import county, event

CLASSES = {"hotspot-no-signal": "network", "box-lid-will-not-latch": "ballot-box"}
WORDS = "the lid pops up again"


def told(number: int) -> list[object]:
    """Some cases as they are worked: reported, described, a counter, a seal, closed."""
    made: list[object] = []
    for at in range(number):
        case = {"incident": f"case-{at}", "minute": at}
        made += [
            event("incident.reported", {"place": "P01", "equipment": "scanner"}, **case),
            event("incident.described", {"words": f"{WORDS} {at}", "effect": "slowed"}, **case),
            event("counter.read", {"public": 100 + at, "moment": "before"}, **case),
            event("seal.removed", {"seal": f"K{at:04}", "where": "main ballot box"}, **case),
            event("incident.closed", {"outcome": "fixed-by-phone"}, **case),
        ]
    return made


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Folder]:
    """A county's folder with its election and places, and nothing told yet."""
    create(tmp_path / "county", "")
    opened = open_folder(tmp_path / "county")
    opened.record.append(county())
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A county's folder with 200 entries in 40 cases and three checkpoints."""
    path = tmp_path_factory.mktemp("worked") / "county"
    create(path, 'county = "Tamarisk County"\n')
    folder = open_folder(path)
    folder.record.append(county())
    cases = told(40)
    for begin in (0, 70, 140):
        receipts = folder.record.append(cases[begin : begin + 70])  # type: ignore[arg-type]
        assert {receipt.state for receipt in receipts} == {"new"}
        folder.checkpoints.make("e26", "asked", now())
    folder.close()
    return path


@pytest.fixture(scope="session")
def zipped(worked: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Its record."""
    folder, out = open_folder(worked), tmp_path_factory.mktemp("zip") / "record.zip"
    store.export(folder, "e26", out, CLASSES, public=False, now=now())
    folder.close()
    return out


@pytest.fixture
def files(zipped: Path) -> dict[str, bytes]:
    return store.read(zipped)


Export = Callable[..., dict[str, bytes]]


@pytest.fixture
def export(tmp_path: Path) -> Export:
    """The files of a folder's record."""

    def run(folder: Folder, election: str, *, public: bool, classes: object = None) -> object:
        out = tmp_path / "out.zip"
        chosen = CLASSES if classes is None else classes
        store.export(folder, election, out, chosen, public=public, now=now())  # type: ignore[arg-type]
        return store.read(out)

    return run  # type: ignore[return-value]


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's county in the middle of its day."""
    noon = datetime.now().astimezone().replace(hour=15, minute=0) - timedelta(days=1)
    return build(tmp_path_factory.mktemp("demo") / "county", noon).folder
