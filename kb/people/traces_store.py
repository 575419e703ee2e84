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


class Traces:
    """What one county keeps of tries, refusals and changes."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def free_again(self, login: str, address: str, now: datetime) -> datetime | None:
        """When a sign-in may be tried again; None where it may be now."""
        database = self._store.read()
        found = [
            tries.free_again(_tries(database, name), limit, now)
            for name, limit in tries.keys(login, address).items()
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

    def forget_tries(self, login: str, address: str) -> None:
        """A sign-in went well: failed tries of this login from this address count no more."""
        names = [name for name, limit in tries.keys(login, address).items() if limit is tries.PAIR]
        query = "DELETE FROM tries WHERE who = ?"
        self._store.write(lambda database: database.execute(query, [_key(names[0])]))

    def refuse(self, refusal: Refusal) -> None:
        """Keep a refusal for administrators; those over 90 days old go."""
        row = (
            format_instant(refusal.at), refusal.login, refusal.place, refusal.rule,
            refusal.address,
        )  # fmt: skip

        def job(database: Database) -> None:
            oldest = format_instant(refusal.at - KEPT)
            database.execute("DELETE FROM refusals WHERE at < ?", [oldest])
            database.execute("INSERT INTO refusals VALUES (?, ?, ?, ?, ?)", row)

        self._store.write(job)

    def refusals(self, limit: int = 500) -> list[Refusal]:
        """The latest refusals, newest first."""
        query = "SELECT * FROM refusals ORDER BY at DESC LIMIT ?"
        return [
            Refusal(parse_instant(at), login, place, rule, address)
            for at, login, place, rule, address in self._store.read().execute(query, [limit])
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


def _key(name: str) -> str:
    # Neither logins that somebody made up nor addresses are kept in plain.
    return fingerprint(name)
