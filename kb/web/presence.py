"""Who has a case open right now: kept in memory, since it is worth nothing a minute later.

One process serves a county, so one memory knows all.
"""

from __future__ import annotations

import threading
from datetime import datetime, timedelta

from flask import current_app

# A page says so every 15 seconds; two may get lost.
STAYS = timedelta(seconds=50)


class Presence:
    """When each person was seen at each case last. Safe for many threads."""

    def __init__(self) -> None:
        self._seen: dict[tuple[str, str], datetime] = {}
        self._lock = threading.Lock()

    def seen(self, case: str, login: str, at: datetime) -> None:
        """This person has this case open."""
        with self._lock:
            self._seen = {key: last for key, last in self._seen.items() if at - last < STAYS}
            self._seen[case, login] = at

    def others(self, case: str, login: str, at: datetime) -> list[str]:
        """The logins of the others who have it open, in their order."""
        with self._lock:
            return sorted(
                who
                for (what, who), last in self._seen.items()
                if what == case and who != login and at - last < STAYS
            )


def seen(case: str, login: str, at: datetime) -> None:
    """This person has this case open, on the application that answers this request."""
    _here().seen(case, login, at)


def others(case: str, login: str, at: datetime) -> list[str]:
    """Who else has it open."""
    return _here().others(case, login, at)


def _here() -> Presence:
    here: Presence = current_app.extensions.setdefault("latchbook-presence", Presence())
    return here
