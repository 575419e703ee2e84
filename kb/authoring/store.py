"""Edits and every text that was ever in force, in the county's database.

What was published is never changed or deleted: the tables refuse it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, replace
from typing import Any

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from kb.authoring import edits
from kb.authoring.edits import Decision, Edit, Version
from kb.authoring.overlay import Published
from kb.base.clock import format_instant, parse_instant
from kb.base.database import Store
from kb.base.errors import NotFound
from kb.base.ids import fingerprint

migrations = Migrations("editions")

_TABLES = (
    "CREATE TABLE edition_texts (hash TEXT PRIMARY KEY, text TEXT NOT NULL) STRICT, WITHOUT ROWID",
    """CREATE TABLE edits (
        id TEXT PRIMARY KEY, slug TEXT NOT NULL, "where" TEXT NOT NULL, base TEXT NOT NULL,
        shipped TEXT NOT NULL, text TEXT NOT NULL, author TEXT NOT NULL, begun TEXT NOT NULL,
        changed TEXT NOT NULL,
        state TEXT NOT NULL CHECK (state IN ('draft', 'handed-in', 'published', 'set-aside')),
        revision INTEGER NOT NULL, note TEXT NOT NULL, reader TEXT NOT NULL, decided TEXT,
        reason TEXT NOT NULL, CHECK (state != 'published' OR reader NOT IN ('', author))
    ) STRICT""",
    """CREATE TABLE editions (
        slug TEXT NOT NULL, number INTEGER NOT NULL, "where" TEXT NOT NULL,
        hash TEXT NOT NULL REFERENCES edition_texts(hash), base TEXT NOT NULL,
        shipped TEXT NOT NULL, author TEXT NOT NULL, reader TEXT NOT NULL,
        published TEXT NOT NULL, note TEXT NOT NULL, reason TEXT NOT NULL,
        edit TEXT NOT NULL UNIQUE REFERENCES edits(id),
        PRIMARY KEY (slug, number), CHECK (reader NOT IN ('', author))
    ) STRICT, WITHOUT ROWID""",
    "CREATE INDEX edits_of_slug ON edits (slug)",
)
_KEPT = ("edition_texts", "editions")
_LATEST = """SELECT e.*, t.text FROM editions e JOIN edition_texts t USING (hash)
    WHERE e.number = (SELECT max(number) FROM editions WHERE slug = e.slug)"""


@migrations()
def edits_and_editions(database: Database) -> None:
    """Create the tables."""
    for statement in _TABLES:
        database.execute(statement)
    for table in _KEPT:
        for change in ("UPDATE", "DELETE"):
            database.execute(
                f"CREATE TRIGGER {table}_no_{change.lower()} BEFORE {change} ON {table} BEGIN "
                "SELECT RAISE(ABORT, 'what was published is kept for ever'); END"
            )


class Editions:
    """The county's edits of its library. Safe for many threads."""

    def __init__(self, store: Store) -> None:
        self._store = store

    # What is in force

    def version(self) -> int:
        """A number that rises whenever a text comes into force."""
        return int(self._read().execute("SELECT count(*) FROM editions").fetchone()[0])

    def published(self) -> dict[str, Published]:
        """The county's texts in force, by slug; not those where it follows what is shipped."""
        latest = (_version(row) for row in self._read().query(_LATEST))
        return {
            one.slug: Published(one.slug, one.where, one.text, one.shipped)
            for one in latest
            if not one.as_shipped
        }

    def history(self, slug: str) -> list[Version]:
        """All that was ever put into force under a slug, the newest first."""
        query = """SELECT e.*, t.text FROM editions e JOIN edition_texts t USING (hash)
            WHERE slug = ? ORDER BY number DESC"""
        return [_version(row) for row in self._read().query(query, [slug])]

    def text(self, hash_: str) -> str | None:
        """A kept text: one that was published, or that an edit began from."""
        query = "SELECT text FROM edition_texts WHERE hash = ?"
        found = self._read().execute(query, [hash_]).fetchone()
        return str(found[0]) if found else None

    # Edits on their way

    def edit(self, identifier: str) -> Edit:
        """One edit. Raises NotFound."""
        return _find(self._read(), identifier)

    def edits(self, slug: str | None = None, states: Sequence[str] = edits.OPEN) -> list[Edit]:
        """Edits in some states, of one slug or of all, the last changed first."""
        holders = ", ".join("?" * len(states))
        query = f"SELECT * FROM edits WHERE state IN ({holders})"  # noqa: S608 - only question marks
        rows = self._read().query(f"{query} ORDER BY changed DESC, id", list(states))
        return [_edit(row) for row in rows if slug in (None, row["slug"])]

    def begin(self, edit: Edit, keep: Iterable[str] = (), instead_of: Edit | None = None) -> Edit:
        """Store a new edit, and keep the texts that it refers to by their hash.

        The draft that it takes the place of, if any, is set aside in the same transaction.
        """

        def job(database: Database) -> Edit:
            for text in keep:
                _keep(database, text)
            database.table("edits").insert(_row(edit))
            if instead_of is not None:
                _change(
                    database,
                    instead_of.id,
                    lambda old: edits.set_aside(old, edit.author, edit.begun),
                )
            return edit

        return self._store.write(job)

    def change(self, identifier: str, rule: Callable[[Edit], Edit]) -> Edit:
        """Let a rule of `edits` change an edit as it is stored at that moment."""
        return self._store.write(lambda database: _change(database, identifier, rule))

    def publish(self, identifier: str, decision: Decision, shipped: str) -> Version:
        """Put an edit into force, all or nothing; `shipped` is the hash of the shipped text now.

        Raises what `edits.approve` raises, and then nothing has changed.
        """

        def job(database: Database) -> Version:
            current = _in_force(database, _find(database, identifier).slug) or shipped
            edit = _change(database, identifier, lambda old: edits.approve(old, decision, current))
            return _put_in_force(database, edit, decision)

        return self._store.write(job)

    def _read(self) -> Database:
        return self._store.read()


def _in_force(database: Database, slug: str) -> str:
    """The hash of the county's own text in force, or "" where it follows what is shipped."""
    for row in database.query(f"{_LATEST} AND e.slug = ?", [slug]):
        latest = _version(row)
        return "" if latest.as_shipped else latest.hash
    return ""


def _put_in_force(database: Database, edit: Edit, decision: Decision) -> Version:
    _keep(database, edit.text)
    query = "SELECT 1 + coalesce(max(number), 0) FROM editions WHERE slug = ?"
    version = Version(
        slug=edit.slug,
        number=int(database.execute(query, [edit.slug]).fetchone()[0]),
        where=edit.where,
        text=edit.text,
        base=edit.base,
        shipped=edit.shipped,
        author=edit.author,
        reader=decision.reader,
        published=decision.at,
        note=edit.note,
        reason=decision.reason,
        edit=edit.id,
    )
    row = asdict(version) | {"hash": version.hash, "published": format_instant(decision.at)}
    del row["text"]
    database.table("editions").insert(row)
    return version


def _change(database: Database, identifier: str, rule: Callable[[Edit], Edit]) -> Edit:
    edit = rule(_find(database, identifier))
    database.table("edits").update(edit.id, _row(edit))
    return edit


def _keep(database: Database, text: str) -> None:
    database.execute("INSERT OR IGNORE INTO edition_texts VALUES (?, ?)", [fingerprint(text), text])


def _find(database: Database, identifier: str) -> Edit:
    for row in database.query("SELECT * FROM edits WHERE id = ?", [identifier]):
        return _edit(row)
    raise NotFound("There is no such edit. The work list names those there are.")


def _row(edit: Edit) -> dict[str, Any]:
    times = {name: format_instant(getattr(edit, name)) for name in ("begun", "changed")}
    return asdict(edit) | times | {"decided": edit.decided and format_instant(edit.decided)}


def _edit(row: dict[str, Any]) -> Edit:
    found = Edit(**row)
    return replace(
        found,
        begun=parse_instant(row["begun"]),
        changed=parse_instant(row["changed"]),
        decided=parse_instant(row["decided"]) if row["decided"] else None,
    )


def _version(row: dict[str, Any]) -> Version:
    values = {name: value for name, value in row.items() if name != "hash"}
    return Version(**values | {"published": parse_instant(row["published"])})
