"""Sessions in the database: only the SHA-256 of a token is stored, so a copy signs nobody in."""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlite_utils import Database

from kb.base.clock import format_instant, parse_instant
from kb.base.ids import fingerprint, new_token
from kb.people.accounts import Account, from_row
from kb.people.sessions import Session

# How old "last seen" may be before it is written anew: not every request writes.
FRESH = timedelta(minutes=2)
# A session that waits for the second factor.
PENDING = timedelta(minutes=10)
_MARK = 16


def open_session(  # noqa: PLR0913 - what a session knows
    database: Database, login: str, now: datetime, hours: float, device: str, *, whole: bool
) -> str:
    """Begin a session; returns its token."""
    token, stored = new_token(), format_instant(now)
    database.execute("DELETE FROM sessions WHERE expires < ?", [stored])
    ends = now + (timedelta(hours=hours) if whole else PENDING)
    row = (fingerprint(token), login, stored, stored, format_instant(ends), device, int(whole))
    database.execute("INSERT INTO sessions VALUES (?, ?, ?, ?, ?, ?, ?)", row)
    return token


def find(database: Database, token: str, now: datetime, idle_hours: float) -> Session | None:
    """The session of a token; None where it ended, ran out, idled away or never was."""
    query = (
        "SELECT s.*, a.* FROM sessions s JOIN accounts a USING (login) "
        "WHERE s.token = ? AND a.disabled = 0"
    )
    for row in database.query(query, [fingerprint(token)]):
        session = _session(row)
        if _holds(session, now, idle_hours):
            return session
    return None


def touch(database: Database, mark: str, now: datetime) -> None:
    """Note that a session is in use."""
    query = "UPDATE sessions SET seen = ? WHERE substr(token, 1, ?) = ?"
    database.execute(query, [format_instant(now), _MARK, mark])


def end(database: Database, token: str) -> None:
    """End one session by its token."""
    database.execute("DELETE FROM sessions WHERE token = ?", [fingerprint(token)])


def end_marked(database: Database, login: str, mark: str) -> bool:
    """End one session of a person by the mark that they see of it; whether it was there."""
    query = "DELETE FROM sessions WHERE login = ? AND substr(token, 1, ?) = ?"
    return database.execute(query, [login, _MARK, mark]).rowcount > 0


def end_all(database: Database, login: str) -> None:
    """End every session of a person."""
    database.execute("DELETE FROM sessions WHERE login = ?", [login])


def of(database: Database, login: str, now: datetime, idle_hours: float) -> list[Session]:
    """A person's sessions that still hold, the one used last first."""
    query = (
        "SELECT s.*, a.* FROM sessions s JOIN accounts a USING (login) "
        "WHERE s.login = ? ORDER BY s.seen DESC"
    )
    found = [_session(row) for row in database.query(query, [login])]
    return [session for session in found if _holds(session, now, idle_hours)]


def _holds(session: Session, now: datetime, idle_hours: float) -> bool:
    return session.expires > now and now - session.seen < timedelta(hours=idle_hours)


def _session(row: dict[str, str]) -> Session:
    account: Account = from_row(row)
    return Session(
        account,
        row["form_token"],
        parse_instant(row["began"]),
        parse_instant(row["seen"]),
        parse_instant(row["expires"]),
        row["device"],
        bool(row["whole"]),
        row["token"][:_MARK],
    )
