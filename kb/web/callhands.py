"""A call changes hands: it joins an open case, another answerer takes it, somebody calls back."""

from __future__ import annotations

from flask import Blueprint, g, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import InputError
from kb.incidents.incident import Incident
from kb.people.roles import may
from kb.web import callpage, presence
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import Told, enter, incident_or_404

pages = Blueprint("callhands", __name__, url_prefix="/calls")


@pages.post("/given-up")
@allow("take calls")
def given_up() -> ResponseReturnValue:
    """The phone rang, and the caller was gone before anybody answered: it counts."""
    election = county().election(now())
    if election is None:
        raise InputError("No election is set up yet. An administrator imports one first.")
    enter([Told("call.offered")], election=election.id, incident=None)
    return redirect(url_for("calls.board"), 303)


@pages.get("/<identifier>/beside")
@allow("take calls")
def beside(identifier: str) -> ResponseReturnValue:
    """Who else has the case open; asking says that one has it open oneself."""
    login, instant = g.session.account.login, now()
    presence.seen(identifier, login, instant)
    others = presence.others(identifier, login, instant)
    return render_template("calls/beside.html", also_open=others)


@pages.post("/<identifier>/same/<other>")
@allow("take calls")
def same(identifier: str, other: str) -> ResponseReturnValue:
    """This call is about a case that is open: its words join that case, and one goes on there."""
    incident, target = _open(identifier), _open(other)
    if identifier == other or target.place is None:
        raise InputError("Pick another case of the same place.")
    form, offered = callpage.take_notes(incident)
    if form.problems:
        return callpage.refused(incident, form, offered)
    incident = incident_or_404(identifier)
    if incident.place != target.place:
        raise InputError("The two cases are of different places. Look at both once more.")
    number = county().record.number(incident.id)
    said = f": “{incident.words}”" if incident.words else "."
    election = incident.election
    # The case that goes on first: should the second fail, nothing said is lost.
    note = Told("note.added", {"text": f"Called again, no. {number}{said}"})
    enter([Told("call.answered"), note], election=election, incident=target.id)
    enter(
        [Told("call.ended"), Told("incident.merged", {"into": target.id})],
        election=election,
        incident=incident.id,
    )
    login, record = g.session.account.login, county().record
    record.save_draft(login, target.id, record.draft(login, target.id) or {})
    record.drop_draft(login, incident.id)
    return redirect(url_for("calls.page", identifier=target.id), 303)


@pages.post("/<identifier>/hand-over")
@allow("take calls")
def hand_over(identifier: str) -> ResponseReturnValue:
    """Another answerer goes on with it, and finds everything, what was only typed too."""
    incident = _open(identifier)
    form, offered = callpage.take_notes(incident)
    me = g.session.account.login
    people = {one.login for one in county().people.all() if may(one.roles, "take calls")} - {me}
    to = form.choice("hand_to", people, "Pick who goes on with the call.")
    reason = form.free_text("hand_reason")
    if form.problems:
        return callpage.refused(incident, form, offered)
    body = {"person": to} | ({"reason": reason} if reason else {})
    enter([Told("call.handed", body)], election=incident.election, incident=incident.id)
    record = county().record
    theirs = record.draft(to, incident.id) or {}
    record.save_draft(to, incident.id, theirs | (record.draft(me, incident.id) or {}))
    record.drop_draft(me, incident.id)
    return redirect(url_for("calls.board"), 303)


@pages.post("/<identifier>/again")
@allow("take calls")
def again(identifier: str) -> ResponseReturnValue:
    """On the phone once more: one calls back, or the caller called again."""
    incident = _open(identifier)
    enter([Told("call.answered")], election=incident.election, incident=incident.id)
    login, record = g.session.account.login, county().record
    record.save_draft(login, incident.id, record.draft(login, incident.id) or {})
    return redirect(url_for("calls.page", identifier=incident.id), 303)


def _open(identifier: str) -> Incident:
    found = incident_or_404(identifier)
    if found.status != "open":
        raise InputError("This case was closed meanwhile. A lead can open it again.")
    return found
