"""Is the record complete? Forms, calls, statements, counts of places, open custody."""

from __future__ import annotations

from flask import Blueprint, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import format_instant, now
from kb.base.errors import InputError, NotFound
from kb.exchange.store import told_rows
from kb.incidents import callbook, forms, reconcile, statement
from kb.incidents.callbook import Answer, Calls
from kb.incidents.events import Event
from kb.incidents.places import CallRow, Election
from kb.incidents.standing import standing
from kb.incidents.statement import STATED
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import Told, enter
from kb.web.forms import Form
from kb.web.wholeness import closed_with_lacks

pages = Blueprint("accounting", __name__)

COUNTS = (
    ("checked_in", "Voters checked in"),
    ("counted", "Ballots counted by the scanner"),
    ("stored", "Stored ballots not scanned"),
    ("provisional", "Provisional ballots"),
    ("spoiled", "Spoiled ballots"),
    ("fled", "Checked in and left without voting"),
    ("delivered", "Blank ballots delivered"),
    ("left", "Blank ballots left"),
)
FORM_STATES = ("used", "spoiled", "blank", "missing")


@pages.get("/record/account")
@allow("account for the record")
def board() -> ResponseReturnValue:
    """Everything that must come out even before the canvass."""
    election = _election(request.args.get("election", ""))
    return _board(election)


@pages.post("/record/account/forms")
@allow("reconcile places")
def issue() -> ResponseReturnValue:
    """Write down which pre-numbered forms were given out."""
    election, form = _election(request.form.get("election", "")), Form()
    first = form.number("first", "Type the first number of the range.")
    last = form.number("last", "Type the last number of the range.")
    if first is not None and last is not None and not first <= last <= first + 9_999:
        form.problems["last"] = "The last number must follow the first, at most 10,000 at a time."
    body = {"first": first, "last": last} | _given(to=form.text("to"))
    return _store(election, form, Told("forms.issued", body))


@pages.post("/record/account/form")
@allow("take calls")
def account_form() -> ResponseReturnValue:
    """Say what became of one form."""
    election, form = _election(request.form.get("election", "")), Form()
    body: dict[str, object] = {
        "form": form.number("form", "Type the number of the form."),
        "state": form.choice("state", FORM_STATES, "Say what became of it."),
    }
    if case := form.number("case"):
        incident = county().record.by_number(election.id, case)
        if incident is None:
            form.problems["case"] = f"There is no case {case} in this election."
        body |= _given(incident=incident)
    body |= _given(reason=form.free_text("reason"))
    if body["state"] in {"spoiled", "missing"} and "reason" not in body:
        form.problems["reason"] = "Say how that came about."
    return _store(election, form, Told("form.accounted", body))


@pages.get("/record/statement")
@allow("write down readings")
def shift() -> ResponseReturnValue:
    """My entries since I last stated them."""
    election = _election(request.args.get("election", ""))
    events, login = _events(election), g.session.account.login
    mine = statement.unstated(events, login)
    return render_template(
        "record/statement.html",
        election=election,
        shift=mine,
        entries=standing(mine.entries, events),
        numbers={event.incident: _number(event) for event in mine.entries},
        stated=[event for event in events if event.kind == STATED and event.actor == login],
    )


@pages.post("/record/statement")
@allow("write down readings")
def state() -> ResponseReturnValue:
    """State them: these, and no others, are mine."""
    election, form = _election(request.form.get("election", "")), Form()
    mine = statement.unstated(_events(election), g.session.account.login)
    if not mine.entries or request.form.get("digest") != mine.digest:
        raise InputError(
            "Your entries have changed since the page was loaded. Load it again, look through "
            "them, and state them then."
        )
    body: dict[str, object] = {
        "starts": format_instant(mine.entries[0].received),
        "until": format_instant(mine.entries[-1].received),
        "entries": len(mine.entries),
        "digest": mine.digest,
    }
    body |= _given(text=form.free_text("text"))
    if form.problems:
        raise InputError(" ".join(form.problems.values()))
    enter([Told(STATED, body)], election=election.id, incident=None)
    return redirect(url_for("accounting.shift", election=election.id, done=1), 303)


@pages.get("/places/<identifier>/count")
@allow("account for the record")
def place_count(identifier: str) -> ResponseReturnValue:
    """The count of a place: the sums, and where they stand."""
    return _count_page(identifier, _election(request.args.get("election", "")), None)


@pages.post("/places/<identifier>/count")
@allow("reconcile places")
def take_count(identifier: str) -> ResponseReturnValue:
    """Store a place's count; sums that are not even need an explanation."""
    election, form = _election(request.form.get("election", "")), Form()
    numbers = {name: form.number(name) for name, _ in COUNTS}
    body: dict[str, object] = {name: told for name, told in numbers.items() if told is not None}
    if not body:
        form.problems["checked_in"] = "Fill in what the place's sheet says."
    body |= {"place": identifier} | _given(explained=form.free_text("explained"))
    sums = reconcile.reconcile(body)
    if not form.problems and not sums.settled:
        form.problems["explained"] = (
            "The sums do not come out even. Count again, or write down what explains the rest."
        )
    if form.problems:
        return _count_page(identifier, election, form)
    enter([Told("place.reconciled", body)], election=election.id, incident=None)
    return redirect(url_for("accounting.place_count", identifier=identifier, done=1), 303)


def counts(election: str) -> dict[str, Event]:
    """The last count of each place, as it stands."""
    events = county().record.standing("place.reconciled", election)
    return {str(event.body["place"]): event for event in events}


def _events(election: Election) -> list[Event]:
    """The log of an election; statements as they stand, without those struck out."""
    record = county().record
    stated = {event.id: event for event in record.standing(STATED, election.id)}
    return [
        stated.get(event.id, event)
        for event in record.events(election=election.id)
        if event.kind != STATED or event.id in stated
    ]


def _of_forms(events: list[Event]) -> list[Event]:
    """What tells of paper forms, as it counts now."""
    told = [event for event in events if event.kind in forms.KINDS]
    return [entry.event for entry in standing(told, events) if not entry.struck]


def _board(election: Election, form: Form | None = None) -> ResponseReturnValue:
    record = county().record
    events = _events(election)
    logins = sorted({event.actor for event in events if not event.imported})
    last = counts(election.id)
    return render_template(
        "record/account.html",
        elections=record.elections(),
        election=election,
        size=record.log_size(election.id),
        imported=sum(event.imported for event in events),
        forms=forms.account(_of_forms(events)),
        ranges=forms.ranges,
        calls=_calls(election.id, events),
        shifts={login: statement.unstated(events, login) for login in logins},
        places=record.places(),
        sums={place: reconcile.reconcile(event.body) for place, event in last.items()},
        lacking=closed_with_lacks(election.id),
        states=FORM_STATES,
        problems=form.problems if form else {},
        typed=form.typed if form else {},
        form=form,
    ), (422 if form else 200)


def _calls(election: str, events: list[Event]) -> Calls | None:
    """The telephone list against the ledger; None where no list was loaded."""
    rows = told_rows(county().record, "calls", election).values()
    listed = [row for row in rows if isinstance(row, CallRow)]
    answers = [
        Answer(
            event.id,
            event.incident,
            str(event.body["call"]) if "call" in event.body else None,
            event.happened,
        )
        for event in events
        if event.kind == "call.answered"
    ]
    return callbook.reconcile(listed, answers) if listed else None


def _store(election: Election, form: Form, told: Told) -> ResponseReturnValue:
    if form.problems:
        return _board(election, form)
    enter([told], election=election.id, incident=None)
    return redirect(url_for("accounting.board", election=election.id), 303)


def _count_page(identifier: str, election: Election, form: Form | None) -> ResponseReturnValue:
    place = county().record.place(identifier)
    if place is None:
        raise NotFound(f"There is no place '{identifier}'. The register of incidents lists them.")
    last = counts(election.id).get(identifier)
    told = dict(last.body) if last else {}
    turnout = [row for row in county().record.exposures(election.id) if row.place == identifier]
    return render_template(
        "record/count.html",
        place=place,
        election=election,
        told=told,
        sums=reconcile.reconcile(told) if told else None,
        last=last,
        turnout=turnout,
        fields=COUNTS,
        problems=form.problems if form else {},
        typed=form.typed if form else {},
        form=form,
    ), (422 if form else 200)


def _election(identifier: str) -> Election:
    found = county().record.election(identifier) if identifier else county().election(now())
    if found is None:
        raise NotFound("There is no such election here. The register of incidents lists them.")
    return found


def _given(**members: object) -> dict[str, object]:
    """Those members that were told."""
    return {name: value for name, value in members.items() if value}


def _number(event: Event) -> int | None:
    return county().record.number(event.incident) if event.incident else None
