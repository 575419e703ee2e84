"""The review bundle, judged by the reference library of the Frictionless Data Package."""

from __future__ import annotations

import json
import shutil
import zipfile
from datetime import datetime
from pathlib import Path

import pytest
from frictionless import Package, system

from kb.base.errors import InputError
from kb.demo.build import build
from kb.exchange.bundle_store import write
from kb.incidents.store.folder import create, open_folder


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bundle")
    county = build(folder / "county", datetime.now().astimezone())
    opened = open_folder(county.folder)
    names = write(opened.record, opened.people, county.past_election, folder / "bundle.zip")
    opened.close()
    with zipfile.ZipFile(folder / "bundle.zip") as archive:
        assert sorted(archive.namelist()) == sorted(names)
        archive.extractall(folder / "out")
    return folder / "out"


@pytest.mark.filterwarnings("ignore")
def test_the_reference_library_finds_nothing_wrong(unpacked: Path) -> None:
    with system.use_context(trusted=True):
        report = Package(str(unpacked / "datapackage.json")).validate()
    assert report.valid, report.flatten(["name", "fieldName", "rowNumber", "message"])[:5]
    tables = list(unpacked.rglob("*.csv"))
    assert report.stats["tasks"] == len(tables) > 6
    assert (unpacked / "review" / "places.csv").is_file()


@pytest.mark.filterwarnings("ignore")
def test_it_finds_a_table_that_was_changed(unpacked: Path, tmp_path: Path) -> None:
    shutil.copytree(unpacked, tmp_path / "copy")
    path = tmp_path / "copy" / "equipment.csv"
    path.write_bytes(path.read_bytes().replace(b",yes,", b",perhaps,"))
    with system.use_context(trusted=True):
        assert not Package(str(tmp_path / "copy" / "datapackage.json")).validate().valid


def test_nobody_of_the_office_stands_in_it(unpacked: Path) -> None:
    told = json.loads((unpacked / "datapackage.json").read_text())
    assert {one["name"] for one in told["resources"]}.isdisjoint({"people", "shifts"})


def test_no_bundle_of_an_unknown_election(tmp_path: Path) -> None:
    create(tmp_path / "c", "")
    opened = open_folder(tmp_path / "c")
    with pytest.raises(InputError, match="no election"):
        write(opened.record, opened.people, "nope", tmp_path / "b.zip")
    opened.close()
