"""One tap for the roll call: a place is ready, open, closed, on its way, handed in."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import NotFound
from kb.incidents import rollcall
from kb.incidents.kinds import MARKS
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import Told, election_or_404, enter
from kb.web.forms import Form, inside

pages = Blueprint("rollcall", __name__, url_prefix="/roll-call")

# So many places stand on the page; a zone or a word of the name leads to the others.
SHOWN = 120
WITH_SEALS = frozenset({"materials.left", "materials.received"})


@pages.get("")
@allow("write down readings")
def board() -> ResponseReturnValue:
    """Every place with what it said last, and the button for what comes next."""
    election = election_or_404()
    record = county().record
    marks, everywhere = record.marks(election.id), record.places()
    zone, text = request.args.get("zone", ""), request.args.get("text", "").strip()[:80]
    late = {one.place.id: one for one in rollcall.silent(election, everywhere, marks, now())}
    places = record.find_places(text, len(everywhere)) if text else everywhere
    places = [place for place in places if not zone or place.zone == zone]
    # Whom to call first, and no more than a page takes in at once.
    shown = sorted(places, key=lambda place: (place.id not in late, place.id))[:SHOWN]
    following = {place.id: rollcall.next_kind(marks.get(place.id, {})) for place in shown}
    return render_template(
        "now/rollcall.html",
        election=election,
        places=shown,
        found=len(places),
        of=len(everywhere),
        zones=sorted({place.zone for place in everywhere if place.zone}),
        zone=zone,
        text=text,
        marks=marks,
        # Who is silent is asked for what is due, not for what was skipped on the way there.
        next=following | {place: one.kind for place, one in late.items()},
        silent=late,
        buttons=rollcall.ANSWERS,
        with_seals=WITH_SEALS,
    )


@pages.post("/<place>/<kind>")
@allow("write down readings")
def take(place: str, kind: str) -> ResponseReturnValue:
    """Store one answer of a place; seals where materials move."""
    election, form = election_or_404(), Form()
    if kind not in MARKS or county().record.place(place) is None:
        raise NotFound("There is no such place, or no such answer, in the roll call.")
    body: dict[str, object] = {"place": place}
    seals = form.text("seals").replace(",", " ").split()
    if seals:
        body["seals"] = seals
    when = form.time("happened") if form.text("happened") else None
    enter([Told(kind, body, when)], election=election.id, incident=None)
    back = request.form.get("back", "")
    return redirect(back if _ours(back) else url_for("rollcall.board"), 303)


def _ours(target: str) -> bool:
    """Whether an address leads to a page of ours that has these buttons."""
    return inside(target).startswith(("/calls/", "/rounds/", "/now", "/roll-call"))
