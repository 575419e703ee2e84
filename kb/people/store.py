"""Accounts, sessions and one-time links in the county's database.

Of a session or a link only the SHA-256 of its token is stored: a copy of the database signs
nobody in.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from kb.base.clock import format_instant, parse_instant
from kb.base.database import Store
from kb.base.errors import InputError, NotFound
from kb.base.ids import fingerprint, new_token
from kb.people.accounts import Account
from kb.people.passwords import hash_password, matches
from kb.people.roles import ROLES

migrations = Migrations("people")
LINK_HOURS = 48
# At most this many argon2 runs at once: each takes 19 MiB and a core.
_sign_in_gate = threading.BoundedSemaphore(2)


@migrations()
def accounts_and_sessions(database: Database) -> None:
    """Create the tables."""
    for statement in (
        """CREATE TABLE accounts (
            login TEXT PRIMARY KEY, name TEXT NOT NULL, roles TEXT NOT NULL,
            zone TEXT NOT NULL, phone TEXT NOT NULL, disabled INTEGER NOT NULL DEFAULT 0,
            password TEXT, form_token TEXT NOT NULL
        ) STRICT""",
        """CREATE TABLE sessions (
            token TEXT PRIMARY KEY, login TEXT NOT NULL REFERENCES accounts(login),
            expires TEXT NOT NULL
        ) STRICT""",
        """CREATE TABLE links (
            token TEXT PRIMARY KEY, login TEXT NOT NULL REFERENCES accounts(login),
            expires TEXT NOT NULL
        ) STRICT""",
    ):
        database.execute(statement)


@dataclass(frozen=True)
class Session:
    """A signed-in browser: whose, the token its forms must carry, and until when.

    The form token belongs to the account and changes with its password: a form typed before a
    session ran out can be sent after signing in again.
    """

    account: Account
    csrf: str
    expires: datetime


class People:
    """Accounts and sessions of one county."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def all(self) -> list[Account]:
        """Every account, by login."""
        return [
            _account(row)
            for row in self._store.read().table("accounts").rows_where(order_by="login")
        ]

    def get(self, login: str) -> Account:
        """One account. Raises NotFound."""
        for row in self._store.read().query("SELECT * FROM accounts WHERE login = ?", [login]):
            return _account(row)
        raise NotFound(f"There is no account '{login}'.")

    def put(self, *accounts: Account) -> list[str]:
        """Add or change accounts, all or none; says of each "new", "changed" or "same".

        A password, once set, stays. Raises InputError for a role that does not exist.
        """
        for account in accounts:
            if unknown := sorted(account.roles - ROLES.keys()):
                raise InputError(
                    f"{account.login}: no role is called {', '.join(unknown)}; "
                    f"use {', '.join(ROLES)}."
                )
        return self._store.write(lambda database: [_put(database, account) for account in accounts])

    def set_password(self, login: str, password: str) -> None:
        """Give an account a password; its sessions and links end. Raises InputError, NotFound."""
        self.get(login)
        hashed = hash_password(password)

        def job(database: Database) -> None:
            changed = {"password": hashed, "form_token": new_token()}
            database.table("accounts").update(login, changed)
            database.table("sessions").delete_where("login = ?", [login])
            database.table("links").delete_where("login = ?", [login])

        self._store.write(job)

    def sign_in(self, login: str, password: str, now: datetime, hours: float) -> str | None:
        """A new session's token, or None where login and password do not fit."""
        rows = list(
            self._store.read().query(
                "SELECT password, disabled FROM accounts WHERE login = ?", [login]
            )
        )
        stored = rows[0]["password"] if rows and not rows[0]["disabled"] else None
        with _sign_in_gate:
            fits = matches(stored, password)
        if not fits:
            return None
        token, stored_now = new_token(), format_instant(now)
        expires = format_instant(now + timedelta(hours=hours))

        def job(database: Database) -> None:
            database.table("sessions").delete_where("expires < ?", [stored_now])
            database.table("sessions").insert(
                {"token": fingerprint(token), "login": login, "expires": expires}
            )

        self._store.write(job)
        return token

    def session(self, token: str, now: datetime) -> Session | None:
        """The session of a cookie, or None where it ended, ran out or never was."""
        rows = self._store.read().query(
            "SELECT s.expires, a.* FROM sessions s JOIN accounts a USING (login) "
            "WHERE s.token = ? AND a.disabled = 0",
            [fingerprint(token)],
        )
        for row in rows:
            expires = parse_instant(row["expires"])
            if expires > now:
                return Session(_account(row), row["form_token"], expires)
        return None

    def sign_out(self, token: str) -> None:
        """End a session; its cookie is worth nothing afterwards."""
        self._store.write(
            lambda database: database.table("sessions").delete_where(
                "token = ?", [fingerprint(token)]
            )
        )

    def make_link(self, login: str, now: datetime) -> str:
        """A one-time token with which the person sets their password. Raises NotFound."""
        self.get(login)
        token = new_token()
        row = {
            "token": fingerprint(token),
            "login": login,
            "expires": format_instant(now + timedelta(hours=LINK_HOURS)),
        }
        self._store.write(lambda database: database.table("links").insert(row))
        return token

    def link_login(self, token: str, now: datetime) -> str | None:
        """Whose link this is; None where it was used, ran out or never was."""
        for row in self._store.read().query(
            "SELECT login, expires FROM links WHERE token = ?", [fingerprint(token)]
        ):
            if parse_instant(row["expires"]) > now:
                return str(row["login"])
        return None


def _account(row: dict[str, str]) -> Account:
    return Account(
        row["login"],
        row["name"],
        frozenset(row["roles"].split()),
        row["zone"],
        row["phone"],
        bool(row["disabled"]),
    )


def _put(database: Database, account: Account) -> str:
    values = {
        "name": account.name,
        "roles": " ".join(sorted(account.roles)),
        "zone": account.zone,
        "phone": account.phone,
    }
    present = list(database.query("SELECT * FROM accounts WHERE login = ?", [account.login]))
    if not present:
        database.table("accounts").insert(
            {"login": account.login, **values, "disabled": 0, "form_token": new_token()}
        )
        return "new"
    if all(present[0][key] == value for key, value in values.items()):
        return "same"
    database.table("accounts").update(account.login, values)
    return "changed"
