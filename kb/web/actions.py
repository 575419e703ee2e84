"""Corrective actions: from a finding to who does what until when, and what will show it."""

from __future__ import annotations

import contextlib
import math
import uuid
from collections.abc import Mapping
from datetime import date

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.errors import NotFound
from kb.base.ids import new_id
from kb.incidents.actions import ELEMENTS, STATED, STATES, Action
from kb.incidents.places import Election
from kb.review import store
from kb.review.findings.finding import Finding, method_of, number
from kb.web import lookback
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import Told, enter
from kb.web.forms import Form

pages = Blueprint("actions", __name__, url_prefix="/review/actions")

# What a finding gives an action, told again with each change so that each entry stands alone.
FROM_FINDING = ("finding", "issue", "measure", "base", "wanted")


@pages.get("")
@allow("review")
def board() -> ResponseReturnValue:
    """All actions, and what later elections show of them."""
    record = county().record
    elections = record.elections()
    found = store.actions_of(record, elections)
    return render_template(
        "review/actions.html",
        asked=lookback.asked(),
        lines=[(one, lookback.after(one)) for one in found],
        names={one.id: one.name for one in elections},
        today=lookback.today(),
    )


@pages.get("/new")
@allow("keep actions")
def new() -> ResponseReturnValue:
    """The form for a new action, about a finding where one is named."""
    election, told = _about()
    return _page(election, None, told | {"state": STATES[0]}, None)


@pages.post("/new")
@allow("keep actions")
def add() -> ResponseReturnValue:
    """Keep a new action."""
    wanted = lookback.asked_or_404()
    form = Form()
    # From the form as it was loaded: the finding may have moved since, and nothing typed is lost.
    told = _from_form(form)
    body = _body(form)
    if form.problems:
        return _page(wanted.election, None, told | form.typed.to_dict(), form)
    name = str(uuid.uuid5(uuid.NAMESPACE_OID, request.form.get("entry") or new_id()))
    whole = {"action": name} | told | body
    enter([Told(STATED, whole)], election=wanted.election.id, incident=None)
    return redirect(url_for("actions.board", election=wanted.election.id), 303)


@pages.get("/<identifier>")
@allow("review")
def change(identifier: str) -> ResponseReturnValue:
    """An action with its history, and the form to change it."""
    action, election = _action_or_404(identifier)
    return _page(election, action, _told(action), None)


@pages.post("/<identifier>")
@allow("keep actions")
def changed(identifier: str) -> ResponseReturnValue:
    """Keep a change; what was there before stays in the record."""
    action, election = _action_or_404(identifier)
    form = Form()
    body = _body(form)
    told = _told(action)
    if form.problems:
        return _page(election, action, told | form.typed.to_dict(), form)
    kept = {name: told[name] for name in FROM_FINDING if told.get(name) not in {None, ""}}
    enter([Told(STATED, {"action": action.id} | kept | body)], election=election.id, incident=None)
    return redirect(url_for("actions.board", election=election.id), 303)


def _body(form: Form) -> dict[str, object]:
    told: dict[str, object] = {
        "text": form.free_text("text", "Write what is to be done."),
        "element": form.choice("element", ELEMENTS, "Choose what it changes."),
        "owner": form.text("owner", "Name who sees to it.", 120),
        "due": form.text("due", "Give the day by which it is to be done."),
        "state": form.choice("state", STATES, "Choose a state."),
    }
    try:
        date.fromisoformat(str(told["due"]))
    except ValueError:
        form.problems.setdefault("due", "Give the day as year-month-day, such as 2027-03-01.")
    if note := form.free_text("note"):
        told["note"] = note
    return told


def _about() -> tuple[Election, dict[str, object]]:
    """The election, and what the finding that the address names gives the action."""
    wanted = lookback.asked_or_404()
    key = request.args.get("finding", "")
    if not key:
        return wanted.election, {}
    seen = lookback.look(wanted)
    found = next((one for one in seen.findings if one.key == key), None)
    if found is None:
        raise NotFound("This finding does not stand any more: the record has changed since.")
    return wanted.election, _of_finding(found, number(seen.review.sections, found.measure))


def _from_form(form: Form) -> dict[str, object]:
    """What a finding gave the form when it was loaded; only what a finding can give."""
    key = form.text("finding")
    if not method_of(key):
        return {}
    told: dict[str, object] = {"finding": key, "issue": form.text("issue")}
    measure = form.text("measure")
    if measure.startswith("/"):
        told |= {"measure": measure, "wanted": "up" if form.text("wanted") == "up" else "down"}
        with contextlib.suppress(ValueError):
            base = float(form.text("base"))
            told |= {"base": base} if math.isfinite(base) else {}
    return {name: value for name, value in told.items() if value != ""}


def _of_finding(found: Finding, base: float | None) -> dict[str, object]:
    told: dict[str, object] = {
        "finding": found.key,
        "issue": found.title,
        "measure": found.measure,
        "wanted": found.wanted,
    }
    return told if base is None else told | {"base": base}


def _told(action: Action) -> dict[str, object]:
    told = {name: getattr(action, name) for name in FROM_FINDING}
    return told | {
        "text": action.text,
        "element": action.element,
        "owner": action.owner,
        "due": action.due.isoformat(),
        "state": action.state,
        "note": action.note,
    }


def _action_or_404(identifier: str) -> tuple[Action, Election]:
    record = county().record
    elections = {one.id: one for one in record.elections()}
    for one in store.actions_of(record, list(elections.values())):
        if one.id == identifier:
            return one, elections[one.election]
    raise NotFound("There is no such action. The list of actions has them all.")


def _page(
    election: Election, action: Action | None, told: Mapping[str, object], form: Form | None
) -> ResponseReturnValue:
    history = county().record.standing(STATED, election.id) if action else []
    base = told.get("base")
    return render_template(
        "review/action.html",
        election=election,
        action=action,
        typed=told,
        base=float(base) if isinstance(base, (int, float)) else None,
        elements=ELEMENTS,
        states=STATES,
        people=sorted(one.name for one in county().people.all() if not one.disabled),
        history=[one for one in history if action and one.body["action"] == action.id],
        problems=form.problems if form else {},
        form=form,
    ), (422 if form else 200)
