"""The register of all incidents with its filter, an incident's page, and a place's story."""

from __future__ import annotations

from typing import Any, cast

from flask import Blueprint, g, render_template, request
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import NotFound
from kb.incidents import corrections, lists
from kb.incidents.incident import Incident
from kb.incidents.kinds import CORRECTED, FINAL
from kb.incidents.store.reading import NOBODY
from kb.people.roles import may
from kb.web import devicelines, wholeness
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import incident_or_404

pages = Blueprint("incidents", __name__)

# These are not corrected themselves: one corrects the entry that they mean.
ENTRIES_ABOUT_ENTRIES = (CORRECTED, *sorted(FINAL))

# The filters of the register, kept in the address: name and the words of the empty choice.
# So many rows stand on one page of the register.
ON_A_PAGE = 200
MOST_CHOICES = 400
FILTERS = {
    "status": "open and closed",
    "zone": "all zones",
    "place": "all places",
    "equipment": "all equipment",
    "phase": "all phases",
    "effect": "all effects",
    "flag": "any flag",
    "symptom": "all symptoms",
    "rover": "any or no rover",
    "outcome": "any outcome",
}


@pages.get("/incidents")
@allow("read incidents")
def register() -> ResponseReturnValue:
    """All incidents of an election, filtered."""
    record = county().record
    elections = record.elections()
    current = county().election(now())
    chosen = request.args.get("election") or (current.id if current else "")
    wanted = {name: request.args[name] for name in FILTERS if request.args.get(name)}
    text = request.args.get("text", "").strip()[:200]
    known = any(election.id == chosen for election in elections)
    rows = (
        record.incidents(chosen, text=text or None, **cast("dict[str, Any]", wanted))
        if known
        else []
    )
    asked = request.args.get("page", "1")
    pages_in_all = max(1, -(-len(rows) // ON_A_PAGE))
    page = min(int(asked), pages_in_all) if asked.isdecimal() and len(asked) < 7 else 1
    page = max(page, 1)
    places = {place.id: place for place in record.places()}
    options = {
        "status": [("open", "open"), ("closed", "closed")],
        "zone": [(zone, zone) for zone in sorted({place.zone for place in places.values()})],
        # A list of thousands is no choice: then the number is typed.
        "place": [(place.id, f"{place.id} {place.name}") for place in places.values()]
        if len(places) <= MOST_CHOICES
        else [],
        "equipment": [(item.id, item.name) for item in county().library.words.equipment],
        "phase": [(phase, phase) for phase in lists.PHASES],
        "effect": [(effect, lists.SHOWN.get(effect, effect)) for effect in lists.EFFECTS],
        "symptom": [(symptom, lists.SHOWN.get(symptom, symptom)) for symptom in lists.SYMPTOMS],
        "rover": [
            (NOBODY, "nobody sent"),
            *((one.login, one.name) for one in county().people.all() if "rover" in one.roles),
        ],
        "outcome": [(outcome, lists.SHOWN.get(outcome, outcome)) for outcome in lists.OUTCOMES],
        "flag": [(flag, lists.SHOWN.get(flag, flag)) for flag in lists.FLAGS],
    }
    return render_template(
        "incidents/register.html",
        elections=elections,
        chosen=chosen,
        found=len(rows),
        rows=rows[(page - 1) * ON_A_PAGE : page * ON_A_PAGE],
        page=page,
        pages=pages_in_all,
        places=places,
        filters=FILTERS,
        options=options,
        wanted=wanted,
        text=text,
    )


@pages.get("/incidents/<identifier>")
@allow("read incidents")
def incident(identifier: str) -> ResponseReturnValue:
    """One incident: what is known now, and every entry behind it."""
    found = incident_or_404(identifier)
    record = county().record
    place = record.place(found.place) if found.place else None
    return render_template(
        "incidents/incident.html",
        incident=found,
        lacks=wholeness.lacks(found),
        asked=_asked(found),
        # Empty for who may correct nothing: then no entry has the link.
        correctable=ENTRIES_ABOUT_ENTRIES if _may_correct() else (),
        place=place,
        row=record.row(found.id),
        parent=record.row(found.parent) if found.parent else None,
        members=record.incidents(found.election, parent=found.id) if found.county_wide else [],
    )


def _may_correct() -> bool:
    return may(g.session.account.roles, "correct entries")


def _asked(incident: Incident) -> set[str]:
    """The entries of a case for which a correction waits."""
    waiting = corrections.pending(entry.event for entry in incident.timeline)
    return {one.target.id for one in waiting if one.target is not None}


@pages.get("/places/<identifier>")
@allow("read incidents")
def place(identifier: str) -> ResponseReturnValue:
    """A place's story on one page: who and what stands there, and what happened, by time."""
    record = county().record
    found = record.place(identifier)
    if found is None:
        raise NotFound(f"There is no place '{identifier}'. The register of incidents lists them.")
    current = county().election(now())
    chosen = request.args.get("election") or (current.id if current else "")
    rows = record.incidents(chosen, place=found.id) if chosen else []
    return render_template(
        "incidents/place.html",
        place=found,
        rows=rows,
        devices=record.devices(found.id),
        elections=record.elections(),
        chosen=chosen,
        marks=record.marks(chosen).get(found.id, {}),
        logged=devicelines.lines(chosen, record.devices(found.id), rows),
        story=[(row, record.incident(row.id)) for row in sorted(rows, key=lambda row: row.number)],
    )
