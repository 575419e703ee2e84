"""A litigation hold on a case: placed and lifted by a manager, with a reason."""

from __future__ import annotations

from flask import Blueprint, redirect, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.errors import InputError
from kb.web.access import allow
from kb.web.entries import Told, enter, incident_or_404
from kb.web.forms import LONGEST_LINE

pages = Blueprint("holds", __name__)


@pages.post("/incidents/<identifier>/hold")
@allow("keep holds")
def take(identifier: str) -> ResponseReturnValue:
    """Place a hold, or lift it."""
    incident = incident_or_404(identifier)
    reason = " ".join(request.form.get("reason", "").split())[:LONGEST_LINE]
    if not reason:
        raise InputError("Say why: it stands in the record. Go back and fill it in.")
    kind = "hold.lifted" if incident.held else "hold.placed"
    enter([Told(kind, {"reason": reason})], election=incident.election, incident=incident.id)
    return redirect(url_for("incidents.incident", identifier=identifier), 303)
