"""The second factor in the database: an authenticator's secret, recovery codes by their hash."""

from __future__ import annotations

from datetime import datetime

from sqlite_utils import Database

from kb.base.database import Store
from kb.people import codes, sessions_store
from kb.people.sessions import Session
from kb.people.traces_store import note


class Factors:
    """The second factors of one county's accounts."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def secret(self, login: str) -> str | None:
        """The secret of a person's authenticator; None where none is set up."""
        query = "SELECT secret FROM accounts WHERE login = ?"
        found = self._store.read().execute(query, [login]).fetchone()
        return str(found[0]) if found and found[0] else None

    def set_up(self, login: str, secret: str, code: str, now: datetime) -> list[str] | None:
        """Set up the second factor with a first right code; the recovery codes, shown once.

        None where the code does not fit, or another factor was set up meanwhile.
        """
        step = codes.step_of(secret, code, now, 0)
        if step is None:
            return None
        fresh = codes.new_recovery_codes()

        def job(database: Database) -> list[str] | None:
            query = (
                "UPDATE accounts SET secret = ?, last_step = ? WHERE login = ? AND secret IS NULL"
            )
            if database.execute(query, [secret, step, login]).rowcount != 1:
                return None
            database.table("recovery_codes").delete_where("login = ?", [login])
            for one in fresh:
                row = {"login": login, "code": codes.recovery_print(one)}
                database.table("recovery_codes").insert(row)
            note(database, login, login, "second factor set up", "")
            return fresh

        return self._store.write(job)

    def whole(self, session: Session, now: datetime, hours: float) -> str | None:
        """Make a session whole whose factor was set up just now; its new token.

        None where the session was ended meanwhile.
        """
        return self._store.write(lambda database: _whole(database, session, now, hours))

    def give_code(self, session: Session, code: str, now: datetime, hours: float) -> str | None:
        """Make a session whole by a code or a recovery code; its new token, or None.

        The token changes, since what it opens changes.
        """
        login = session.account.login

        def job(database: Database) -> str | None:
            if not _take_code(database, login, code, now):
                return None
            return _whole(database, session, now, hours)

        return self._store.write(job)

    def take_off(self, login: str, by: str, reason: str) -> None:
        """Take a lost authenticator off an account; its sessions end."""

        def job(database: Database) -> None:
            database.table("accounts").update(login, {"secret": None, "last_step": 0})
            database.table("recovery_codes").delete_where("login = ?", [login])
            sessions_store.end_all(database, login)
            note(database, by, login, "second factor taken off", reason)

        self._store.write(job)

    def codes_left(self, login: str) -> int:
        """How many recovery codes a person has not used."""
        return self._store.read().table("recovery_codes").count_where("login = ?", [login])


def _whole(database: Database, session: Session, now: datetime, hours: float) -> str | None:
    login = session.account.login
    if not sessions_store.end_marked(database, login, session.mark):
        return None
    return sessions_store.open_session(database, login, now, hours, session.device, whole=True)


def _take_code(database: Database, login: str, code: str, now: datetime) -> bool:
    """Use up a code of the authenticator, or a recovery code; whether it was right."""
    query = "SELECT secret, last_step FROM accounts WHERE login = ?"
    secret, last = database.execute(query, [login]).fetchone()
    step = codes.step_of(secret, code, now, int(last)) if secret else None
    if step is not None:
        database.table("accounts").update(login, {"last_step": step})
        return True
    query = "DELETE FROM recovery_codes WHERE login = ? AND code = ?"
    used = database.execute(query, [login, codes.recovery_print(code)]).rowcount == 1
    if used:
        note(database, login, login, "recovery code used", "")
    return used
