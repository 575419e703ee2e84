"""An end-of-shift statement: "these are my entries", over exactly which ones.

The digest is SHA-256 over the ids in the order of the ledger, a line each: whoever has the
record can work it out again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from kb.base.clock import parse_instant
from kb.incidents.events import Event

STATED = "shift.stated"


@dataclass(frozen=True)
class Shift:
    """A person's entries since their last statement, and when that was."""

    entries: tuple[Event, ...]
    since: datetime | None

    @property
    def digest(self) -> str:
        """The digest over the ids, in hex."""
        return digest(event.id for event in self.entries)


def unstated(events: Sequence[Event], login: str) -> Shift:
    """What a person entered in this log and has not stated yet, in ledger order."""
    since: datetime | None = None
    for event in events:
        if event.kind == STATED and event.actor == login:
            since = parse_instant(str(event.body["until"]))
    mine = tuple(
        event
        for event in events
        if event.actor == login
        and event.kind != STATED
        and not event.imported
        and (since is None or event.received > since)
    )
    return Shift(mine, since)


def digest(ids: Iterable[str]) -> str:
    """SHA-256 over ids, a line each, in hex."""
    return hashlib.sha256("".join(f"{name}\n" for name in ids).encode()).hexdigest()
