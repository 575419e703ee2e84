"""Dispatch: which rover to send to which case; the program proposes, the lead decides."""

from __future__ import annotations

from datetime import datetime, timedelta

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import InputError
from kb.incidents.dispatch import Case, Free, Speed, propose
from kb.incidents.places import Election, Place
from kb.incidents.rows import Row, by_rover
from kb.people.accounts import Account
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import Told, election_or_404, enter, incident_or_404
from kb.web.forms import Form

pages = Blueprint("sending", __name__, url_prefix="/dispatch")

# The proposal looks at the most urgent cases, and the page shows the first of them.
LOOKED_AT, SHOWN = 300, 40
# What a stop takes where nobody knows better: common practice of offices that send rovers.
STOP_MINUTES = 25.0


@pages.get("")
@allow("dispatch rovers")
def board() -> ResponseReturnValue:
    """The cases that wait for a rover, and the proposal."""
    return _page(election_or_404(), None)


@pages.post("/<identifier>")
@allow("dispatch rovers")
def send(identifier: str) -> ResponseReturnValue:
    """Send a rover; another one than proposed with a reason, which is kept."""
    incident, form = incident_or_404(identifier), Form()
    election = county().record.election(incident.election)
    rovers = {one.login for one in _rovers()}
    rover = form.choice("rover", rovers, "Pick the rover to send.")
    reason = form.free_text("reason")
    proposed = request.form.get("proposed", "")
    if rover and proposed and rover != proposed and not reason:
        form.problems["reason"] = "Another rover than proposed: say why."
    if incident.status == "closed":
        raise InputError("This case was closed meanwhile. Load the page again.")
    if form.problems and election is not None:
        return _page(election, form)
    body = {"rover": rover} | ({"reason": reason} if reason else {})
    enter([Told("rover.sent", body)], election=incident.election, incident=incident.id)
    return redirect(url_for("sending.board"), 303)


def _page(election: Election, form: Form | None) -> ResponseReturnValue:
    record, instant = county().record, now()
    rows = record.incidents(election.id, status="open")
    places = {place.id: place for place in record.places()}
    waiting = [row for row in rows if not row.rover]
    stops = by_rover(rows)
    rovers = [_free(person, stops.get(person.login, []), places, instant) for person in _rovers()]
    speed = Speed(county().settings.road_factor, county().settings.km_an_hour)
    found = propose(rovers, [_case(row, places, instant) for row in waiting[:LOOKED_AT]], speed)
    proposed = {one.case for one in found}
    return render_template(
        "now/dispatch.html",
        election=election,
        waiting=waiting,
        shown=[row for at, row in enumerate(waiting) if at < SHOWN or row.id in proposed],
        places=places,
        proposals={one.case: one for one in found},
        rovers=rovers,
        stops=stops,
        speed=speed,
        stop_minutes=round(STOP_MINUTES),
        problems=form.problems if form else {},
        typed=form.typed if form else {},
    ), (422 if form else 200)


def _rovers() -> list[Account]:
    return [one for one in county().people.all() if "rover" in one.roles and not one.disabled]


def _free(person: Account, stops: list[Row], places: dict[str, Place], instant: datetime) -> Free:
    """A rover with the position of the last stop, and the minutes its stops still take."""
    busy = len(stops) * STOP_MINUTES
    there = next((row for row in stops if row.rover_there), None)
    if there is not None and there.arrived is not None:
        busy -= min(STOP_MINUTES, (instant - there.arrived) / timedelta(minutes=1))
    last = stops[-1] if stops else None
    place = places.get(last.place or "") if last else None
    return Free(person.login, _position(place), person.zone, max(busy, 0.0))


def _case(row: Row, places: dict[str, Place], instant: datetime) -> Case:
    place = places.get(row.place or "")
    waited = (instant - row.reported) / timedelta(minutes=1) if row.reported else 0.0
    zone = place.zone if place else ""
    return Case(row.id, row.priority or 4, waited, _position(place), zone)


def _position(place: Place | None) -> tuple[float, float] | None:
    if place is None or place.latitude is None or place.longitude is None:
        return None
    return place.latitude, place.longitude
