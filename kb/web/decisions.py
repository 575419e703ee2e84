"""A decision about a case: what, by whom, with whom; only those whom the table allows."""

from __future__ import annotations

from flask import Blueprint, g, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from kb.incidents.deciding import DECISIONS, refusal
from kb.incidents.incident import Incident
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import Told, enter, incident_or_404
from kb.web.forms import Form

pages = Blueprint("decisions", __name__)


@pages.get("/incidents/<identifier>/decide")
@allow("decide")
def decide(identifier: str) -> ResponseReturnValue:
    """The form."""
    return _page(incident_or_404(identifier), None)


@pages.post("/incidents/<identifier>/decide")
@allow("decide")
def take(identifier: str) -> ResponseReturnValue:
    """Store a decision."""
    incident, form = incident_or_404(identifier), Form()
    about = form.choice("about", DECISIONS, "Pick what is decided.")
    body: dict[str, object] = {
        "text": form.free_text("text", "Write down the decision and why."),
        "about": about,
    }
    asked = form.text("who_else")
    if asked:
        body["who_else"] = asked
    why = refusal(about, g.session.account.roles, asked) if about else ""
    if why:
        field, _, message = why.partition(": ")
        form.problems[field] = f"{message[:1].upper()}{message[1:]}."
    if form.problems:
        return _page(incident, form)
    enter([Told("decision.made", body)], election=incident.election, incident=incident.id)
    return redirect(url_for("incidents.incident", identifier=identifier), 303)


def _page(incident: Incident, form: Form | None) -> ResponseReturnValue:
    roles = g.session.account.roles
    return render_template(
        "incidents/decide.html",
        incident=incident,
        number=county().record.number(incident.id),
        mine={name: one for name, one in DECISIONS.items() if not one.roles.isdisjoint(roles)},
        all=DECISIONS,
        problems=form.problems if form else {},
        typed=form.typed if form else {},
        form=form,
    ), (422 if form else 200)
