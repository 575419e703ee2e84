"""Entries as a phone sends them: receipts come back, and how much the standby holds.

A phone keeps an entry until the standby holds it (or, without a standby, until the receipt).
What it sends again is acknowledged with the same number; nothing is ever stored twice.
"""

from __future__ import annotations

from flask import Blueprint, g, jsonify, request
from flask.typing import ResponseReturnValue

from kb.base.errors import InputError
from kb.web.access import allow
from kb.web.county import county

pages = Blueprint("outbox", __name__)

MOST_ENTRIES = 200


@pages.post("/entries")
@allow("write down readings")
def take() -> ResponseReturnValue:
    """Take a list of entries; a receipt for each, in the same order."""
    told = request.get_json(silent=True)
    entries = told.get("entries") if isinstance(told, dict) else None
    if not isinstance(entries, list) or len(entries) > MOST_ENTRIES:
        raise InputError(f"Send an object with 'entries', a list of at most {MOST_ENTRIES}.")
    receipts = county().record.take(entries, g.session.account)
    logs = {str(entry.get("election") or "") for entry in entries if isinstance(entry, dict)}
    return jsonify(
        receipts=[
            {
                "id": receipt.id,
                "sequence": receipt.sequence,
                "state": receipt.state,
                "message": receipt.message,
            }
            for receipt in receipts
        ],
        held={log: held(log) for log in logs},
    )


@pages.get("/entries/held/<election>")
@allow("write down readings")
def look(election: str) -> ResponseReturnValue:
    """How many entries of an election's log are safe on a second machine."""
    return jsonify(held=held(election))


def held(log: str) -> int:
    """Entries of a log that may be forgotten by who sent them."""
    standby = county().folder.standby
    return county().record.log_size(log) if standby is None else standby.held(log)
