"""Correcting an entry: by one person where that is enough, else by two."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace

from flask import Blueprint, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import InputError, NotFound
from kb.incidents import corrections
from kb.incidents.corrections import ASKED, TWO_PERSONS, Asked
from kb.incidents.events import Event
from kb.incidents.incident import Incident
from kb.incidents.kinds import CORRECTED, FINAL, check_body
from kb.incidents.order import Entry
from kb.incidents.standing import standing
from kb.web import telling
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import Told, enter, incident_or_404
from kb.web.forms import Form

pages = Blueprint("corrections", __name__)

# Entries about entries are not corrected themselves here: one corrects what they mean.
NOT_HERE = FINAL | {CORRECTED}


@dataclass(frozen=True)
class Waiting:
    """A correction that waits, with both sides in plain words."""

    asked: Asked
    before: str
    after: str
    number: int | None
    mine: bool


@pages.get("/incidents/<identifier>/correct/<event>")
@allow("correct entries")
def page(identifier: str, event: str) -> ResponseReturnValue:
    """The form with what the entry says now."""
    incident = incident_or_404(identifier)
    return _page(incident, _entry(incident, event), None)


@pages.post("/incidents/<identifier>/correct/<event>")
@allow("correct entries")
def take(identifier: str, event: str) -> ResponseReturnValue:
    """Correct the entry, or ask for it where it takes two persons."""
    incident = incident_or_404(identifier)
    entry, form = _entry(incident, event), Form()
    reason = form.free_text("reason", "Say why: it stands beside the entry.")
    body: dict[str, object] = {"event": entry.id, "reason": reason}
    if form.choice("way", {"change", "strike"}, "Say what shall happen to the entry.") == "change":
        replacement = _replacement(entry, form)
        if replacement is not None:
            body["replacement"] = replacement
        if replacement == dict(entry.body):
            form.problems["way"] = "Nothing was changed. Change a value, or strike the entry out."
    if form.problems:
        return _page(incident, entry, form)
    kind = ASKED if entry.kind in TWO_PERSONS else CORRECTED
    enter([Told(kind, body)], election=incident.election, incident=incident.id)
    return redirect(url_for("incidents.incident", identifier=identifier, corrected=kind), 303)


@pages.get("/corrections")
@allow("approve corrections")
def board() -> ResponseReturnValue:
    """What waits for a second person."""
    election = county().election(now())
    events = county().record.events(election=election.id) if election else []
    waiting = [_waiting(asked) for asked in _as_they_stand(events)]
    return render_template("corrections/board.html", election=election, waiting=waiting)


@pages.post("/corrections/<event>")
@allow("approve corrections")
def decide(event: str) -> ResponseReturnValue:
    """Carry a correction out, or refuse it with a reason."""
    election = county().election(now())
    events = county().record.events(election=election.id) if election else []
    asked = next((one for one in corrections.pending(events) if one.event.id == event), None)
    if asked is None:
        raise NotFound("This correction was decided already, or never asked for.")
    told, scope = asked.event.body, asked.event
    if request.form.get("do") == "carry-out":
        body = {name: told[name] for name in ("event", "replacement", "reason") if name in told}
        enter(
            [Told(CORRECTED, body | {"asked": event})],
            election=scope.election, incident=scope.incident,
        )  # fmt: skip
    else:
        reason = " ".join(request.form.get("reason", "").split())[:500]
        if not reason:
            raise InputError("Say why it is refused. Go back and fill it in.")
        enter(
            [Told(corrections.REFUSED, {"asked": event, "reason": reason})],
            election=scope.election, incident=scope.incident,
        )  # fmt: skip
    return redirect(url_for("corrections.board"), 303)


def _replacement(entry: Entry, form: Form) -> dict[str, object] | None:
    """The body as it was typed; None where it is faulty, and then `form.problems` says why."""
    typed = {
        name: _value(form.typed.get(f"m-{name}", ""), value) for name, value in entry.body.items()
    }
    body, problems = check_body(entry.kind, typed, "")
    for problem in problems:
        form.problems[f"m-{problem.field.partition('.')[0]}"] = problem.message
    return None if problems else body


def _value(text: str, before: object) -> object:
    """A typed text as the kind of value that stood there before; None where it was emptied."""
    plain = " ".join(text.split())
    if isinstance(before, bool):
        return plain == "yes"
    if isinstance(before, int) and plain.replace(",", "").isdecimal():
        return int(plain.replace(",", ""))
    if isinstance(before, list):
        return plain.replace(",", " ").split()
    if isinstance(before, dict):
        try:
            return json.loads(text)
        except ValueError:
            return text
    return plain or None


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return " ".join(map(str, value))
    return json.dumps(value, ensure_ascii=False) if isinstance(value, dict) else str(value)


def _entry(incident: Incident, event: str) -> Entry:
    found = next((entry for entry in incident.timeline if entry.id == event), None)
    if found is None or found.kind in NOT_HERE or found.struck:
        raise NotFound("There is no such entry to be corrected. Go back to the case.")
    return found


def _page(incident: Incident, entry: Entry, form: Form | None) -> ResponseReturnValue:
    members = [
        (name, name.replace("_", " "), _shown(value), isinstance(value, bool))
        for name, value in entry.body.items()
    ]
    mine = entry.actor == g.session.account.login
    return render_template(
        "corrections/page.html",
        incident=incident,
        number=county().record.number(incident.id),
        entry=entry,
        members=members,
        two=entry.kind in TWO_PERSONS,
        mine=mine,
        problems=form.problems if form else {},
        typed=form.typed if form else {},
        form=form,
    ), (422 if form else 200)


def _as_they_stand(events: list[Event]) -> list[tuple[Asked, Entry | None]]:
    """What waits, and the entry that it means, with redacted words hidden in both."""
    waiting = corrections.pending(events)
    told = {asked.event.id: asked.event for asked in waiting}
    told |= {asked.target.id: asked.target for asked in waiting if asked.target}
    stands = {entry.id: entry for entry in standing(told.values(), events)}
    return [
        (
            replace(asked, event=stands[asked.event.id].event),
            stands[asked.target.id] if asked.target else None,
        )
        for asked in waiting
    ]


def _waiting(waits: tuple[Asked, Entry | None]) -> Waiting:
    asked, target = waits
    before = telling.entry_words(target) if target else "(the entry is not here yet)"
    after = "struck out"
    if target is not None and asked.replacement is not None:
        after = telling.body_words(target.kind, asked.replacement)
    number = county().record.number(asked.event.incident) if asked.event.incident else None
    mine = asked.event.actor == g.session.account.login
    return Waiting(asked, before, after, number, mine)
