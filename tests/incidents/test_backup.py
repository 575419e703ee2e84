"""A backup holds the whole county, is checked, and comes back into an empty folder only."""

from __future__ import annotations

import json
import shutil
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]

from kb.base.clock import now
from kb.base.errors import InputError, StateError
from kb.incidents.store import keys, standby
from kb.incidents.store.backup import DATABASE, LIST, backup, restore
from kb.incidents.store.folder import Folder, create, open_folder
from kb.people.accounts import Account
from tests.incidents.telling import HOTLINE, county, entry


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Folder]:
    create(tmp_path / "county", 'county = "Tamarisk County"\n')
    opened = open_folder(tmp_path / "county")
    opened.record.append(county())
    opened.people.put(Account("h.one", "Ha One", frozenset({"hotline"})))
    opened.record.take([entry("note.added", {"text": "one"})], HOTLINE)
    yield opened
    opened.close()


def test_a_running_county_comes_back_whole(folder: Folder, tmp_path: Path) -> None:
    folder.checkpoints.make("e26", "asked", now())
    sizes = backup(folder.path, tmp_path / "b.zip")
    assert sizes == folder.record.log_sizes()
    assert restore(tmp_path / "b.zip", tmp_path / "again") == sizes
    again = open_folder(tmp_path / "again")
    try:
        assert again.record.digest() == folder.record.digest()
        assert again.record.tree_root("e26") == folder.record.tree_root("e26")
        assert again.checkpoints.all("e26") == folder.checkpoints.all("e26")
        assert again.people.get("h.one").name == "Ha One"
        assert again.settings.county == "Tamarisk County"
        # The key that checks came along, the one that signs did not.
        assert str(keys.verifier(again.path)) == str(keys.verifier(folder.path))
        assert not keys.there(again.path)
        with pytest.raises(StateError, match="no signing key"):
            again.checkpoints.make("e26", "asked", now())
    finally:
        again.close()


def test_the_signing_key_goes_along_only_when_asked(folder: Folder, tmp_path: Path) -> None:
    secret = (folder.path / keys.FOLDER / keys.SIGNING).read_bytes()
    backup(folder.path, tmp_path / "plain.zip")
    with zipfile.ZipFile(tmp_path / "plain.zip") as archive:
        assert all(secret.strip() not in archive.read(name) for name in archive.namelist())
    backup(folder.path, tmp_path / "keys.zip", with_keys=True)
    assert (tmp_path / "keys.zip").stat().st_mode & 0o077 == 0
    restore(tmp_path / "keys.zip", tmp_path / "again")
    path = tmp_path / "again" / keys.FOLDER / keys.SIGNING
    assert path.read_bytes() == secret
    assert path.stat().st_mode & 0o077 == 0


def test_nothing_is_put_into_a_folder_that_holds_something(folder: Folder, tmp_path: Path) -> None:
    backup(folder.path, tmp_path / "b.zip")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("mine")
    with pytest.raises(StateError, match="is not empty"):
        restore(tmp_path / "b.zip", tmp_path / "full")
    assert [path.name for path in (tmp_path / "full").iterdir()] == ["mine.txt"]


@pytest.mark.parametrize(
    "what", ["cut", "database changed", "list gone", "stranger", "log", "text"]
)
def test_a_backup_that_is_not_whole_leaves_nothing_behind(
    folder: Folder, tmp_path: Path, what: str
) -> None:
    backup(folder.path, tmp_path / "b.zip")
    with zipfile.ZipFile(tmp_path / "b.zip") as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    told = json.loads(files[LIST])
    if what == "database changed":
        files[DATABASE] = files[DATABASE].replace(b"Ha One", b"Ha Two")
    elif what == "list gone":
        del files[LIST]
    elif what == "stranger":
        files["../evil"] = b"x"
        told["files"]["../evil"] = "0"
        files[LIST] = json.dumps(told).encode()
    elif what == "log":
        told["logs"]["e26"]["size"] += 1
        files[LIST] = json.dumps(told).encode()
    bad = tmp_path / "bad.zip"
    with zipfile.ZipFile(bad, "w") as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    if what == "cut":
        bad.write_bytes((tmp_path / "b.zip").read_bytes()[:-200])
    elif what == "text":
        bad.write_text("no zip")
    with pytest.raises(InputError):
        restore(bad, tmp_path / "again")
    assert not (tmp_path / "again").exists()
    assert not list(tmp_path.glob(".again*"))
    assert not (tmp_path.parent / "evil").exists()


def test_a_database_whose_leaves_were_changed_is_not_backed_up_as_whole(
    folder: Folder, tmp_path: Path
) -> None:
    path = folder.path
    folder.close()
    connection = sqlite3.connect(str(path / DATABASE))
    connection.execute("DROP TRIGGER ledger_no_update")
    connection.execute("UPDATE ledger SET hash = zeroblob(32) WHERE log = '' AND sequence = 1")
    connection.commit()
    connection.close()
    with pytest.raises(StateError, match="does not fit its entries"):
        backup(path, tmp_path / "b.zip")
    assert not (tmp_path / "b.zip").exists()


def test_no_backup_of_nothing(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no data folder"):
        backup(tmp_path / "none", tmp_path / "b.zip")
    create(tmp_path / "c", "")
    with pytest.raises(InputError, match="no folder"):
        backup(tmp_path / "c", tmp_path / "nowhere" / "b.zip")


@pytest.mark.skipif(shutil.which("sh") is None, reason="Litestream's wheel is for Linux")
def test_a_standby_that_holds_nothing_says_so(folder: Folder, tmp_path: Path) -> None:
    config = standby.configure(folder.path, tmp_path / "second")
    assert str(tmp_path / "second" / standby.REPLICA) in config.read_text()
    assert not (tmp_path / "second" / keys.FOLDER / keys.SIGNING).exists()
    with pytest.raises(StateError, match="Nothing could be restored"):
        standby.fetch(tmp_path / "second", tmp_path / "x.db")
    watch = standby.Watch(tmp_path / "second", folder.record.log_sizes)
    assert watch.held("e26") == 0
