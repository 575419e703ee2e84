"""Notices to all of the hotline and all rovers, and who has read them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from kb.incidents.events import Event

SENT, READ = "notice.sent", "notice.read"
# Those who are told: whoever answers the phone or drives.
READERS = frozenset({"hotline", "lead", "manager", "rover"})


@dataclass(frozen=True)
class Notice:
    """One notice; `read` says when each person has read it first, its sender included."""

    id: str
    text: str
    article: str | None
    case: str | None
    at: datetime
    by: str
    read: Mapping[str, datetime]


def notices(sent: Iterable[Event], receipts: Iterable[Event]) -> list[Notice]:
    """The notices, the newest first, each with its readers."""
    read: dict[str, dict[str, datetime]] = {}
    for event in receipts:
        readers = read.setdefault(str(event.body["notice"]), {})
        readers[event.actor] = min(event.happened, readers.get(event.actor, event.happened))
    found = [
        Notice(
            event.id,
            str(event.body["text"]),
            event.told("article"),
            event.told("case"),
            event.happened,
            event.actor,
            {event.actor: event.happened} | read.get(event.id, {}),
        )
        for event in sent
    ]
    return sorted(found, key=lambda one: (one.at, one.id), reverse=True)


def unread(found: Iterable[Notice], login: str) -> list[Notice]:
    """Those that a person has not read, the newest first."""
    return [one for one in found if login not in one.read]
