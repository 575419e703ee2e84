"""The tables of people: accounts, sessions, one-time links, tries, refusals, what was changed."""

from __future__ import annotations

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

migrations = Migrations("people")


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


@migrations()
def second_factor_tries_and_traces(database: Database) -> None:
    """Sessions tell when and where; codes, tries, refusals and changes are kept.

    Sessions of before end: they do not know whether a second factor was asked.
    """
    for statement in (
        "DROP TABLE sessions",
        """CREATE TABLE sessions (
            token TEXT PRIMARY KEY, login TEXT NOT NULL REFERENCES accounts(login),
            began TEXT NOT NULL, seen TEXT NOT NULL, expires TEXT NOT NULL,
            device TEXT NOT NULL, whole INTEGER NOT NULL CHECK (whole IN (0, 1))
        ) STRICT""",
        "CREATE INDEX sessions_of_login ON sessions (login)",
        "ALTER TABLE accounts ADD COLUMN secret TEXT",
        "ALTER TABLE accounts ADD COLUMN last_step INTEGER NOT NULL DEFAULT 0",
        """CREATE TABLE recovery_codes (
            login TEXT NOT NULL REFERENCES accounts(login), code TEXT NOT NULL,
            PRIMARY KEY (login, code)
        ) STRICT""",
        """CREATE TABLE tries (
            who TEXT NOT NULL, at TEXT NOT NULL
        ) STRICT""",
        "CREATE INDEX tries_of_who ON tries (who, at)",
        """CREATE TABLE refusals (
            at TEXT NOT NULL, login TEXT NOT NULL, place TEXT NOT NULL, rule TEXT NOT NULL,
            address TEXT NOT NULL
        ) STRICT""",
        """CREATE TABLE changes (
            at TEXT NOT NULL, by TEXT NOT NULL, login TEXT NOT NULL, what TEXT NOT NULL,
            reason TEXT NOT NULL
        ) STRICT""",
        "CREATE INDEX changes_of_login ON changes (login, at)",
    ):
        database.execute(statement)


@migrations()
def known_addresses_and_counted_refusals(database: Database) -> None:
    """Where a login signed in well is known; like refusals of one hour are one row."""
    for statement in (
        "CREATE TABLE known (who TEXT PRIMARY KEY, at TEXT NOT NULL) STRICT",
        "CREATE INDEX tries_at ON tries (at)",
        "ALTER TABLE refusals ADD COLUMN times INTEGER NOT NULL DEFAULT 1",
        "CREATE INDEX refusals_at ON refusals (at)",
    ):
        database.execute(statement)
