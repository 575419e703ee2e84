"""Tries, refusals and changes of accounts in the database."""

from __future__ import annotations

from datetime import datetime

from sqlite_utils import Database

from kb.base.clock import format_instant, parse_instant
from kb.base.clock import now as present
from kb.base.database import Store
from kb.base.ids import fingerprint
from kb.people import tries
from kb.people.traces import KEPT, Change, Refusal

# An instant up to its hour: 2026-11-03T12.
_HOUR = 13


class Traces:
    """What one county keeps of tries, refusals and changes."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def free_again(self, login: str, address: str, now: datetime) -> datetime | None:
        """When a sign-in may be tried again; None where it may be now."""
        database = self._store.read()
        known = _known(database, login, address, now)
        found = [
            tries.free_again(_tries(database, name), limit, now)
            for name, limit in tries.keys(login, address).items()
            if limit is tries.PAIR or not known
        ]
        return max((at for at in found if at is not None), default=None)

    def count_try(self, login: str, address: str, now: datetime) -> None:
        """Count a failed try; those that no limit looks at any more are forgotten."""

        def job(database: Database) -> None:
            oldest = format_instant(now - tries.LONGEST)
            database.execute("DELETE FROM tries WHERE at < ?", [oldest])
            for name in tries.keys(login, address):
                row = [_key(name), format_instant(now)]
                database.execute("INSERT INTO tries VALUES (?, ?)", row)

        self._store.write(job)

    def went_well(self, login: str, address: str, now: datetime) -> None:
        """A sign-in went well: failed tries of this login from this address count no more.

        The address is known for the login from now on.
        """
        key = _key(tries.pair(login, address))

        def job(database: Database) -> None:
            oldest = format_instant(now - tries.KNOWN)
            database.execute("DELETE FROM known WHERE at < ?", [oldest])
            database.execute("DELETE FROM tries WHERE who = ?", [key])
            row = [key, format_instant(now)]
            database.execute("INSERT OR REPLACE INTO known VALUES (?, ?)", row)

        self._store.write(job)

    def refuse(self, refusal: Refusal) -> None:
        """Keep a refusal for administrators; those over 90 days old go.

        Like ones of the same hour are counted in one row, so that nobody can fill the disk.
        """
        at, oldest = format_instant(refusal.at), format_instant(refusal.at - KEPT)
        same = (refusal.place, refusal.rule, refusal.address)

        def job(database: Database) -> None:
            database.execute("DELETE FROM refusals WHERE at < ?", [oldest])
            query = "SELECT login FROM accounts WHERE login = ?"
            there = database.execute(query, [refusal.login]).fetchone()
            what = [there[0] if there else "-", *same]
            query = (
                "UPDATE refusals SET at = ?, times = times + 1 WHERE at >= ? "
                "AND login = ? AND place = ? AND rule = ? AND address = ?"
            )
            if not database.execute(query, [at, at[:_HOUR], *what]).rowcount:
                query = "INSERT INTO refusals VALUES (?, ?, ?, ?, ?, 1)"
                database.execute(query, [at, *what])

        self._store.write(job)

    def refusals(self, limit: int = 500) -> list[Refusal]:
        """The latest refusals, newest first."""
        query = "SELECT * FROM refusals ORDER BY at DESC LIMIT ?"
        return [
            Refusal(parse_instant(at), login, place, rule, address, times)
            for at, login, place, rule, address, times in self._store.read().execute(query, [limit])
        ]

    def changes(self, login: str) -> list[Change]:
        """What was done to an account, newest first."""
        query = "SELECT * FROM changes WHERE login = ? ORDER BY at DESC, rowid DESC"
        return [
            Change(parse_instant(at), by, name, what, reason)
            for at, by, name, what, reason in self._store.read().execute(query, [login])
        ]


def note(database: Database, by: str, login: str, what: str, reason: str) -> None:
    """Keep what was done to an account, in the transaction that does it."""
    row = (format_instant(present()), by, login, what, reason)
    database.execute("INSERT INTO changes VALUES (?, ?, ?, ?, ?)", row)


def _tries(database: Database, name: str) -> list[datetime]:
    rows = database.execute("SELECT at FROM tries WHERE who = ?", [_key(name)])
    return [parse_instant(at) for (at,) in rows]


def _known(database: Database, login: str, address: str, now: datetime) -> bool:
    query = "SELECT 1 FROM known WHERE who = ? AND at >= ?"
    row = [_key(tries.pair(login, address)), format_instant(now - tries.KNOWN)]
    return database.execute(query, row).fetchone() is not None


def _key(name: str) -> str:
    # Neither logins that somebody made up nor addresses are kept in plain.
    return fingerprint(name)
