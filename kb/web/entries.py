"""From a form to the record: what a person entered becomes entries, and their receipts are read."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256

from flask import g, request

from kb.base.clock import format_instant, now
from kb.base.errors import InputError, NotFound
from kb.base.ids import new_id
from kb.incidents.incident import Incident
from kb.web.county import county


@dataclass(frozen=True)
class Told:
    """What a person told: an event's kind and body, and when it was where not just now."""

    kind: str
    body: Mapping[str, object] = field(default_factory=dict)
    happened: datetime | None = None


def enter(
    told: Sequence[Told],
    *,
    election: str | None,
    incident: str | None,
    happened: datetime | None = None,
) -> None:
    """Store what was told, all in one go. Raises InputError where any of it was refused.

    A form carries an `entry` id, from which the events' ids follow: a form that is sent
    twice (a double click, a reload) is stored once.
    """
    base = request.form.get("entry") or new_id()
    sent = now()
    entries = [
        {
            "id": _id(base, place, item.kind),
            "election": election,
            "incident": incident,
            "kind": item.kind,
            "happened": format_instant(item.happened or happened or sent),
            "sent": format_instant(sent),
            "body": dict(item.body),
        }
        for place, item in enumerate(told)
    ]
    if not entries or county().record.has(str(entries[0]["id"])):
        return
    receipts = county().record.take(entries, g.session.account)
    refused = [receipt.message for receipt in receipts if receipt.state == "refused"]
    if refused:
        raise InputError("This was not stored: " + " ".join(refused))


def incident_or_404(identifier: str) -> Incident:
    """The incident, or a page that says there is none."""
    found = county().record.incident(identifier)
    if found is None:
        raise NotFound("There is no such incident. It may belong to another county's folder.")
    return found


def _id(base: str, place: int, kind: str) -> str:
    digest = sha256(f"{base}/{place}/{kind}".encode()).digest()
    return str(uuid.UUID(bytes=digest[:16], version=4))
