"""Accounts, sessions and one-time links in the county's database.

Of a session, a link or a recovery code only a hash is stored: a copy of the database signs
nobody in.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TypeVar

from sqlite_utils import Database

from kb.base.clock import format_instant, parse_instant
from kb.base.database import Store
from kb.base.errors import InputError, NotFound
from kb.base.ids import fingerprint, new_token
from kb.people import codes, sessions_store
from kb.people.accounts import Account, from_row
from kb.people.factors_store import Factors
from kb.people.passwords import hash_password, matches, outdated, rehash
from kb.people.roles import ROLES
from kb.people.schema import migrations
from kb.people.sessions import Session
from kb.people.traces_store import Traces, note

__all__ = ["LINK_HOURS", "People", "Session", "SignedIn", "migrations"]

LINK_HOURS = 48
Result = TypeVar("Result")
# At most this many argon2 runs at once: each takes 19 MiB and a core.
_sign_in_gate = threading.BoundedSemaphore(2)


@dataclass(frozen=True)
class SignedIn:
    """A new session: its cookie's token, and whether the second factor is still to come."""

    token: str
    whole: bool


class People:
    """Accounts and sessions of one county."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self.factors = Factors(store)
        self.traces = Traces(store)

    # Accounts

    def all(self) -> list[Account]:
        """Every account, by login."""
        return [
            from_row(row)
            for row in self._store.read().table("accounts").rows_where(order_by="login")
        ]

    def get(self, login: str) -> Account:
        """One account. Raises NotFound."""
        return from_row(self._row(login))

    def put(self, *accounts: Account, by: str = "command-line") -> list[str]:
        """Add or change accounts, all or none; says of each "new", "changed" or "same".

        A password, once set, stays; other roles end the sessions. Raises InputError for a role
        that does not exist, also where no administrator would be left.
        """
        for account in accounts:
            if unknown := sorted(account.roles - ROLES.keys()):
                raise InputError(
                    f"{account.login}: no role is called {', '.join(unknown)}; "
                    f"use {', '.join(ROLES)}."
                )
        return self._store.write(
            lambda database: _guarded(
                database, lambda: [_put(database, one, by) for one in accounts]
            )
        )

    def disable(self, login: str, by: str, reason: str) -> None:
        """Shut an account: its sessions and links end at once.

        Raises NotFound, and InputError for the last administrator.
        """
        self.get(login)

        def job(database: Database) -> None:
            database.table("accounts").update(login, {"disabled": 1})
            sessions_store.end_all(database, login)
            database.table("links").delete_where("login = ?", [login])
            note(database, by, login, "disabled", reason)

        self._store.write(lambda database: _guarded(database, lambda: job(database)))

    def enable(self, login: str, by: str, reason: str) -> None:
        """Open a disabled account again. Raises NotFound."""
        self.get(login)

        def job(database: Database) -> None:
            database.table("accounts").update(login, {"disabled": 0})
            note(database, by, login, "enabled", reason)

        self._store.write(job)

    # Passwords and links

    def set_password(self, login: str, password: str, county: str = "") -> None:
        """Give an account a password; its sessions and links end. Raises InputError, NotFound."""
        hashed = self._hashed(login, password, county)
        self._store.write(lambda database: _set_password(database, login, hashed))

    def change_password(self, login: str, old: str, new: str, county: str = "") -> bool:
        """Change one's own password; False where the old one is wrong. Raises InputError."""
        with _sign_in_gate:
            fits = matches(self._row(login)["password"], old)
        if fits:
            self.set_password(login, new, county)
        return fits

    def has_password(self, login: str) -> bool:
        """Whether the person has ever set one."""
        return self._row(login)["password"] is not None

    def make_link(self, login: str, now: datetime, by: str = "command-line") -> str:
        """A one-time token with which the person sets their password; older ones end.

        Raises NotFound, and InputError for a disabled account.
        """
        if self.get(login).disabled:
            raise InputError(f"The account {login} is disabled. Enable it first.")
        token = new_token()
        row = {
            "token": fingerprint(token),
            "login": login,
            "expires": format_instant(now + timedelta(hours=LINK_HOURS)),
        }

        def job(database: Database) -> None:
            database.table("links").delete_where("login = ?", [login])
            database.table("links").insert(row)
            note(database, by, login, "one-time link made", "")

        self._store.write(job)
        return token

    def link_login(self, token: str, now: datetime) -> str | None:
        """Whose link this is; None where it was used, ran out or never was."""
        for row in self._store.read().query(
            "SELECT login, expires FROM links WHERE token = ?", [fingerprint(token)]
        ):
            if parse_instant(row["expires"]) > now:
                return str(row["login"])
        return None

    def use_link(self, token: str, password: str, now: datetime, county: str = "") -> str | None:
        """Set the password of whose link this is; the link is used up by it. Returns the login.

        None where the link was used, ran out or never was, also where another used it up in
        between. Raises InputError for a password that will not do, and then the link stays.
        """
        login = self.link_login(token, now)
        if login is None:
            return None
        hashed = self._hashed(login, password, county)

        def job(database: Database) -> str | None:
            query = "DELETE FROM links WHERE token = ? AND login = ?"
            if database.execute(query, [fingerprint(token), login]).rowcount != 1:
                return None
            _set_password(database, login, hashed)
            return login

        return self._store.write(job)

    # Signing in

    def sign_in(  # noqa: PLR0913 - what a sign-in knows
        self, login: str, password: str, now: datetime, hours: float, *,
        device: str = "", second_factor: bool = False,
    ) -> SignedIn | None:  # fmt: skip
        """A new session, or None where login and password do not fit.

        With `second_factor` an account of a role that needs it gets a session that is not whole
        until its code was given.
        """
        rows = list(self._store.read().query("SELECT * FROM accounts WHERE login = ?", [login]))
        stored = rows[0]["password"] if rows and not rows[0]["disabled"] else None
        with _sign_in_gate:
            fits = matches(stored, password)
            renewed = rehash(password) if fits and stored and outdated(stored) else None
        if not fits:
            return None
        account = from_row(rows[0])
        whole = not (second_factor and account.roles & codes.ROLES)

        def job(database: Database) -> SignedIn | None:
            # The account may have been shut or changed while the password was checked.
            if list(database.query("SELECT * FROM accounts WHERE login = ?", [login])) != rows:
                return None
            if renewed:
                database.table("accounts").update(login, {"password": renewed})
            token = sessions_store.open_session(database, login, now, hours, device, whole=whole)
            return SignedIn(token, whole)

        return self._store.write(job)

    def session(self, token: str, now: datetime, idle_hours: float = 24) -> Session | None:
        """The session of a cookie, or None where it ended, ran out, idled away or never was."""
        found = sessions_store.find(self._store.read(), token, now, idle_hours)
        if found is not None and now - found.seen > sessions_store.FRESH:
            self._store.write(lambda database: sessions_store.touch(database, found.mark, now))
        return found

    def sessions(self, login: str, now: datetime, idle_hours: float = 24) -> list[Session]:
        """A person's sessions that still hold, the one used last first."""
        return sessions_store.of(self._store.read(), login, now, idle_hours)

    def sign_out(self, token: str) -> None:
        """End a session; its cookie is worth nothing afterwards."""
        self._store.write(lambda database: sessions_store.end(database, token))

    def end_session(self, login: str, mark: str) -> None:
        """End one of a person's sessions, by its mark."""
        self._store.write(lambda database: sessions_store.end_marked(database, login, mark))

    def sign_out_everywhere(self, login: str, by: str) -> None:
        """End all sessions of a person. Raises NotFound."""
        self.get(login)

        def job(database: Database) -> None:
            sessions_store.end_all(database, login)
            note(database, by, login, "signed out everywhere", "")

        self._store.write(job)

    def _hashed(self, login: str, password: str, county: str) -> str:
        return hash_password(password, (county, login, self.get(login).name))

    def _row(self, login: str) -> dict[str, str]:
        for row in self._store.read().query("SELECT * FROM accounts WHERE login = ?", [login]):
            return dict(row)
        raise NotFound(f"There is no account '{login}'.")


def _set_password(database: Database, login: str, hashed: str) -> None:
    """Sessions and links end with the password of before."""
    database.table("accounts").update(login, {"password": hashed, "form_token": new_token()})
    sessions_store.end_all(database, login)
    database.table("links").delete_where("login = ?", [login])
    note(database, login, login, "password set", "")


def _put(database: Database, account: Account, by: str) -> str:
    values = {
        "name": account.name,
        "roles": " ".join(sorted(account.roles)),
        "zone": account.zone,
        "phone": account.phone,
    }
    there = list(database.query("SELECT * FROM accounts WHERE login = ?", [account.login]))
    if not there:
        row = {"login": account.login, **values, "disabled": 0, "form_token": new_token()}
        database.table("accounts").insert(row)
        note(database, by, account.login, "added", values["roles"])
        return "new"
    changed = [name for name, value in values.items() if there[0][name] != value]
    if not changed:
        return "same"
    database.table("accounts").update(account.login, values)
    if "roles" in changed:
        sessions_store.end_all(database, account.login)
    what = f"changed: {', '.join(changed)}"
    note(database, by, account.login, what, values["roles"] if "roles" in changed else "")
    return "changed"


def _guarded(database: Database, job: Callable[[], Result]) -> Result:
    """Do it, unless it leaves a county that had an administrator without one."""
    before = _administrators(database)
    result = job()
    if before and not _administrators(database):
        raise InputError(
            "Nobody could manage people any more. Give another account the role of administrator "
            "first; nothing was changed."
        )
    return result


def _administrators(database: Database) -> int:
    rows = database.execute("SELECT roles FROM accounts WHERE disabled = 0")
    return sum("administrator" in roles.split() for (roles,) in rows)
