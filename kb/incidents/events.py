"""An event as the record keeps it, and the receipt for one that was handed in."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

import rfc8785

from kb.base.clock import format_instant, parse_instant

# The ids that clients make, in small letters; nobody foresees one. Imported lines have hashes.
UUID4 = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")


@dataclass(frozen=True)
class Event:
    """Something that happened, told once and never altered.

    `happened` is the reporter's clock, `sent` the client's and `received` the server's clock
    at transfer. `actor` comes from the session (for imports, from the file).
    """

    id: str
    election: str | None
    incident: str | None
    kind: str
    happened: datetime
    sent: datetime
    received: datetime
    actor: str
    body: Mapping[str, object] = field(hash=False)
    imported: bool = False

    def told(self, name: str) -> str | None:
        """A member of the body as text; None where it was not told."""
        value = self.body.get(name)
        return None if value is None else str(value)

    def members(self) -> dict[str, object]:
        """The event as one JSON object."""
        told = {
            "id": self.id,
            "election": self.election,
            "incident": self.incident,
            "kind": self.kind,
            "happened": format_instant(self.happened),
            "sent": format_instant(self.sent),
            "received": format_instant(self.received),
            "actor": self.actor,
            "body": dict(self.body),
        }
        return told | ({"imported": True} if self.imported else {})

    def content(self) -> dict[str, object]:
        """What the teller made of it: the same for every retry of sending it."""
        told = self.members()
        return {
            name: told[name]
            for name in ("election", "incident", "kind", "happened", "actor", "body")
        }

    def to_json(self) -> str:
        """Canonical JSON (RFC 8785)."""
        return rfc8785.dumps(self.members()).decode()  # type: ignore[arg-type]


def from_json(text: str) -> Event:
    """The way back of `Event.to_json`."""
    told = json.loads(text)
    for name in ("happened", "sent", "received"):
        told[name] = parse_instant(told[name])
    return Event(**told)


@dataclass(frozen=True)
class Recorded:
    """An event with its place in the ledger."""

    event: Event
    log: str
    sequence: int


@dataclass(frozen=True)
class Receipt:
    """The answer to one entry: taken (`new`), taken before (`same`), or `refused` and why."""

    id: str
    sequence: int | None
    state: Literal["new", "same", "refused"]
    message: str = ""
