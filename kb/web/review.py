"""Review: the first summary of an election, by place, kind, phase and hour, with rates."""

from __future__ import annotations

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.review.store import summary as summary_of
from kb.web.access import allow
from kb.web.county import county

pages = Blueprint("review", __name__, url_prefix="/review")


@pages.get("")
@allow("review")
def summary() -> ResponseReturnValue:
    """Counts and rates of one election."""
    record = county().record
    elections = record.elections()
    current = county().election(now())
    chosen = request.args.get("election") or (current.id if current else "")
    election = next((item for item in elections if item.id == chosen), None)
    places = {place.id: place for place in record.places()}
    return render_template(
        "review/summary.html",
        elections=elections,
        election=election,
        places=places,
        summary=summary_of(record, election) if election else None,
    )
