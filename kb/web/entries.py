"""From a form to the record: what a person entered becomes entries, and their receipts are read."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from hashlib import sha256

from flask import g, request

from kb.base.clock import format_instant, now
from kb.base.errors import InputError, NotFound
from kb.base.ids import new_id
from kb.incidents.incident import Incident
from kb.incidents.intake import admit
from kb.incidents.places import Election
from kb.web.county import county

TICK = timedelta(milliseconds=1)
# Of the cases that a form opens; it never changes, or a form sent twice would open two.
_CASES = uuid.UUID("2f0e1c57-6f0b-5d0a-9b86-0d6b1d5f6a11")


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
    """Store what was told, all or nothing. Raises InputError where any of it is at fault.

    A form carries an `entry` id. The events' ids follow from it and from what was told: a form
    that is sent twice (a double click, a reload) is stored once, and one that is changed after
    "back" and sent again is stored as well.
    """
    base = request.form.get("entry") or new_id()
    sent = now()
    entries = [
        {
            "id": _id(base, incident, item, item.happened or happened),
            "election": election,
            "incident": incident,
            "kind": item.kind,
            # A millisecond apart, so that what was told first stays first.
            "happened": format_instant((item.happened or happened or sent) + place * TICK),
            "sent": format_instant(sent),
            "body": dict(item.body),
        }
        for place, item in enumerate(told)
    ]
    # Judged before any is stored: the record itself would take the good ones of a batch.
    for entry in entries:
        admit(entry, actor=g.session.account, received=sent)
    record = county().record
    receipts = record.take(entries, g.session.account)
    refused = [
        receipt.message
        for receipt in receipts
        # Refused since it is there already, at the time of the first sending: that is well.
        if receipt.state == "refused" and not record.has(receipt.id)
    ]
    if refused:
        raise InputError("This was not stored: " + " ".join(refused))


def case_of_form() -> str:
    """The id of the case that this form opens: a double click opens one.

    It follows from the form's id and does not tell it. The events' ids are hashes of the form's
    id and of what was told, and a case's id is public: if the two were one, a time or a short
    word that the public copy withholds could be tried out until the hash fits.
    """
    given = request.form.get("entry") or new_id()
    try:
        return str(uuid.uuid5(_CASES, str(uuid.UUID(given))))
    except ValueError:
        raise InputError("This form is not whole. Load its page again.") from None


def was_entered(told: Sequence[Told], incident: str) -> bool:
    """Whether all of this was stored from the same form before: a double click, a reload."""
    base = request.form.get("entry", "")
    record = county().record
    return bool(base and told) and all(
        record.has(_id(base, incident, item, item.happened)) for item in told
    )


def incident_or_404(identifier: str) -> Incident:
    """The incident, or a page that says there is none."""
    found = county().record.incident(identifier)
    if found is None:
        raise NotFound("There is no such incident. It may belong to another county's folder.")
    return found


def election_or_404() -> Election:
    """The election at hand, or a page that says that none is set up."""
    found = county().election(now())
    if found is None:
        raise NotFound("No election is set up yet. An administrator imports one first.")
    return found


def _id(base: str, incident: str | None, told: Told, happened: datetime | None) -> str:
    when = format_instant(happened) if happened else None
    content = json.dumps([base, incident, told.kind, told.body, when], sort_keys=True)
    return str(uuid.UUID(bytes=sha256(content.encode()).digest()[:16], version=4))
