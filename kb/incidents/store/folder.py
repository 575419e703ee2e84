"""The county's data folder: one database, one settings file. Made, opened, brought up to date."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]

from kb.authoring import learning_store, worksheet_store
from kb.authoring import store as editions_store
from kb.authoring.learning_store import Learning
from kb.authoring.store import Editions
from kb.authoring.worksheet_store import Worksheets
from kb.base import settings
from kb.base.clock import now
from kb.base.database import Store, connect
from kb.base.errors import StateError
from kb.base.settings import Settings
from kb.incidents.personal import looks_personal
from kb.incidents.store import devicelogs, keys, pictures, schema
from kb.incidents.store.backup import DATABASE
from kb.incidents.store.checkpoints import Checkpoints
from kb.incidents.store.devicelogs import DeviceLogs
from kb.incidents.store.pictures import Pictures
from kb.incidents.store.record import Record
from kb.incidents.store.standby import Watch
from kb.people import store as people_store
from kb.people.store import People

log = logging.getLogger(__name__)

MIGRATIONS = (
    people_store.migrations,
    schema.migrations,
    editions_store.migrations,
    worksheet_store.migrations,
    learning_store.migrations,
    devicelogs.migrations,
    pictures.migrations,
)


@dataclass(frozen=True)
class Folder:
    """An opened data folder."""

    path: Path
    settings: Settings
    store: Store
    people: People
    record: Record
    standby: Watch | None = None

    @property
    def editions(self) -> Editions:
        """The county's edits of the library."""
        return Editions(self.store)

    @property
    def worksheet(self) -> Worksheets:
        """The county's answers to the questions of local rules."""
        return Worksheets(self.store)

    @property
    def learning(self) -> Learning:
        """What the county learns from its callers' words."""
        return Learning(self.store, looks_personal)

    @property
    def devicelogs(self) -> DeviceLogs:
        """What devices logged themselves."""
        return DeviceLogs(self.store)

    @property
    def pictures(self) -> Pictures:
        """Pictures that entries name."""
        return Pictures(self.store)

    @property
    def checkpoints(self) -> Checkpoints:
        """What was signed of the record, and the way to sign more."""
        held = self.standby.held if self.standby else None
        return Checkpoints(self.store, self.path, held)

    def close(self) -> None:
        """Finish what waits to be written and let go of the database."""
        self.store.close()


def create(path: Path, settings_text: str | None = None) -> None:
    """Make an empty data folder with keys. Raises StateError where something is there already."""
    if path.exists() and (not path.is_dir() or any(path.iterdir())):
        raise StateError(
            f"{path} is there already and is not empty. Name a new folder; nothing was changed."
        )
    path.mkdir(parents=True, exist_ok=True, mode=0o700)
    text = settings.template() if settings_text is None else settings_text
    (path / settings.FILE).write_text(text, encoding="utf-8")
    _bring_up_to_date(path / DATABASE)
    (path / DATABASE).chmod(0o600)
    keys.make(path, settings.load(path).county)


def open_folder(path: Path) -> Folder:
    """Open a data folder; its tables are brought up to date first.

    Raises StateError where it is missing or half made, and Problems for wrong settings.
    """
    hint = f"Make a new one with: latchbook init {path}"
    if not path.is_dir():
        raise StateError(f"There is no data folder at {path}. {hint}")
    if not (path / DATABASE).is_file():
        raise StateError(
            f"{path} is not a whole data folder: {DATABASE} is missing. "
            f"Put it back from a backup. {hint}-new"
        )
    # SQLite would take an empty file for a new county.
    if not (path / DATABASE).stat().st_size:
        raise StateError(f"{path / DATABASE} is empty. Put it back from a backup.")
    loaded = settings.load(path)
    try:
        _bring_up_to_date(path / DATABASE)
    except sqlite3.DatabaseError as error:
        raise StateError(
            f"{path / DATABASE} cannot be read ({error}). "
            "Put it back from a backup; nothing was changed."
        ) from error
    if not keys.there(path):
        log.warning("%s has no signing key; make one: latchbook keys --data %s", path, path)
    store = Store(path / DATABASE)
    record = Record(store)
    standby = Watch(Path(loaded.standby), record.log_sizes) if loaded.standby else None
    return Folder(path, loaded, store, People(store), record, standby)


def _bring_up_to_date(path: Path, sets: Iterable[Migrations] = MIGRATIONS) -> None:
    """Apply what is pending, all or nothing; what was there is kept beside it as a copy.

    The transaction is the lock: of two processes that start at once, one waits for the other.
    """
    sets = tuple(sets)
    database = connect(path)
    try:
        before = [migration for one in sets for migration in one.applied(database)]
        if before and any(one.pending(database) for one in sets):
            _copy(database, path.with_name(f"before-upgrade-{now():%Y%m%dT%H%M%S}.db"))
        database.conn.execute("BEGIN IMMEDIATE")
        for one in sets:
            one.apply(database)
        database.conn.execute("COMMIT")
    finally:
        database.close()


def _copy(database: Database, target: Path) -> None:
    copy = sqlite3.connect(str(target))
    database.conn.backup(copy)
    copy.close()
    target.chmod(0o600)
