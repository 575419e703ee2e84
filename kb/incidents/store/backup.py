"""Backup of a whole county while it runs, and putting it back into an empty folder, checked.

Everything but the settings and the keys lives in the one database; so a backup is that, the
settings, the public key, and a list of what each file's hash and each log's root is. The
signing key goes along only where it is asked for: who has it can sign in the county's name.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlite_utils import Database
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]

from kb.base import settings
from kb.base.clock import format_instant, now
from kb.base.errors import InputError, StateError
from kb.incidents import merkle
from kb.incidents.store import keys, tree

DATABASE = "latchbook.db"
LIST = "backup.json"
_PLAIN = (settings.FILE, f"{keys.FOLDER}/{keys.VERIFIER}")
_SECRET = f"{keys.FOLDER}/{keys.SIGNING}"


def backup(folder: Path, out: Path, *, with_keys: bool = False) -> dict[str, int]:
    """Write a zip of a data folder, running or not; returns how many entries each log has.

    Raises StateError where the copy does not pass SQLite's own check.
    """
    if not (folder / DATABASE).is_file():
        raise InputError(f"There is no data folder at {folder}: {DATABASE} is missing.")
    if not out.parent.is_dir():
        raise InputError(f"There is no folder {out.parent} to write {out.name} into.")
    with TemporaryDirectory(dir=out.parent, prefix=f".{out.name}-") as name:
        scratch = Path(name)
        copy_database(folder / DATABASE, scratch / DATABASE)
        for one in (*_PLAIN, *([_SECRET] if with_keys else [])):
            if (folder / one).is_file():
                (scratch / one).parent.mkdir(exist_ok=True)
                shutil.copyfile(folder / one, scratch / one)
        logs = check_database(scratch / DATABASE)
        files = sorted(path for path in scratch.rglob("*") if path.is_file())
        told = {
            "made": format_instant(now()),
            "files": {str(path.relative_to(scratch)): _sha256(path) for path in files},
            "logs": {log: {"size": size, "root": root.hex()} for log, (size, root) in logs.items()},
        }
        part = scratch / "whole.zip"
        with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(LIST, json.dumps(told, indent=1))
            for path in files:
                archive.write(path, str(path.relative_to(scratch)))
        part.chmod(0o600)
        part.replace(out)
    return {log: size for log, (size, _) in logs.items()}


def restore(source: Path, folder: Path) -> dict[str, int]:
    """Put a backup into a new or empty folder; returns how many entries each log has.

    It is checked before the folder gets its name: hashes, SQLite's own check, every log's root
    from its leaves. Raises InputError for what is no whole backup, StateError for a folder that
    is not empty; then nothing is there.
    """
    with _new_folder(folder) as scratch:
        told = _unpack(source, scratch)
        logs = check_database(scratch / DATABASE)
        for log, expected in told["logs"].items():
            size, root = logs.get(log, (0, b""))
            if (size, root.hex()) != (expected["size"], expected["root"]):
                raise InputError(f"{source}: the log '{log}' is not what was backed up.")
    return {log: size for log, (size, _) in logs.items()}


def copy_database(source: Path, target: Path) -> None:
    """Copy a database while it is in use (SQLite's online backup)."""
    reading = sqlite3.connect(f"file:{source}?mode=ro", uri=True, timeout=10)
    writing = sqlite3.connect(str(target))
    try:
        reading.backup(writing)
    finally:
        writing.close()
        reading.close()
    target.chmod(0o600)


def check_database(path: Path) -> dict[str, tuple[int, bytes]]:
    """SQLite's own check, then size and root of each log from its leaves.

    Raises StateError where the file is damaged, or a stored node does not follow from the
    leaves.
    """
    connection = sqlite3.connect(str(path))
    try:
        database = Database(connection)
        said = database.execute("PRAGMA integrity_check").fetchone()[0]
        if said != "ok":
            raise StateError(f"{path.name} is damaged: {said}.")
        return dict(_logs(database))
    except sqlite3.DatabaseError as error:
        raise StateError(f"{path.name} is not a whole database: {error}.") from error
    finally:
        connection.close()


def _logs(database: Database) -> Iterator[tuple[str, tuple[int, bytes]]]:
    names = [str(log) for (log,) in database.execute("SELECT DISTINCT log FROM ledger")]
    for log in names:
        query = "SELECT hash FROM ledger WHERE log = ? ORDER BY sequence"
        hashes = [bytes(one) for (one,) in database.execute(query, [log])]
        root = merkle.root(hashes)
        if merkle.root_at(tree.reader(database, log), len(hashes)) != root:
            raise StateError(f"The stored proof of the log '{log}' does not fit its entries.")
        yield log, (len(hashes), root)


@contextmanager
def _new_folder(folder: Path) -> Iterator[Path]:
    """A scratch folder that becomes `folder` when all went well."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise StateError(f"{folder} is not empty. Name a new folder; nothing was changed.")
    if not folder.parent.is_dir():
        raise StateError(f"There is no folder {folder.parent} to make {folder.name} in.")
    with TemporaryDirectory(dir=folder.parent, prefix=f".{folder.name}-") as name:
        scratch = Path(name) / "county"
        scratch.mkdir(mode=0o700)
        yield scratch
        if folder.is_dir():
            folder.rmdir()
        scratch.replace(folder)


def _unpack(source: Path, scratch: Path) -> dict[str, Any]:
    """Take out the files that the list names, each with the hash that it says."""
    try:
        with zipfile.ZipFile(source) as archive:
            told: dict[str, Any] = json.loads(archive.read(LIST))
            allowed = {DATABASE, *_PLAIN, _SECRET}
            for name, sha256 in told["files"].items():
                if name not in allowed:
                    raise InputError(f"{source} holds {name}, which is no part of a backup.")
                target = scratch / name
                target.parent.mkdir(mode=0o700, exist_ok=True)
                target.touch(mode=0o644 if name.endswith(keys.VERIFIER) else 0o600)
                with archive.open(name) as packed, target.open("wb") as file:
                    shutil.copyfileobj(packed, file)
                if _sha256(target) != sha256:
                    raise InputError(f"{source}: {name} is not what was backed up.")
    except (zipfile.BadZipFile, KeyError, ValueError, TypeError, AttributeError, OSError) as error:
        raise InputError(f"{source} is not a whole backup: {error}.") from None
    if not (scratch / DATABASE).is_file():
        raise InputError(f"{source} is not a whole backup: {DATABASE} is missing.")
    return told


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
