"""The hours without the system: the pack that is printed, and paper forms typed in afterwards."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import InputError
from kb.incidents import lists
from kb.incidents.places import Election
from kb.people.roles import ROLES
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import Told, case_of_form, enter
from kb.web.forms import Form

pages = Blueprint("paper", __name__, url_prefix="/record/paper")

MOST_BLANKS = 200


@pages.get("")
@allow("take calls")
def new() -> ResponseReturnValue:
    """A paper form to be typed in."""
    return _page(None)


@pages.post("")
@allow("take calls")
def take() -> ResponseReturnValue:
    """Store a paper form as a case of its own, at the times that stand on it."""
    election, form = _election(), Form()
    told = _told(form, election)
    if form.problems:
        return _page(form)
    incident = case_of_form()
    enter(told, election=election.id, incident=incident)
    return redirect(url_for("incidents.incident", identifier=incident), 303)


@pages.get("/pack")
@allow("take calls")
def pack() -> ResponseReturnValue:
    """The pack to print before the day: directory, devices, seals, blank forms."""
    record, election = county().record, _election()
    devices: dict[str, list[object]] = {}
    for device in record.devices():
        devices.setdefault(device.place or "", []).append(device)
    return render_template(
        "record/pack.html",
        election=election,
        places=record.places(),
        devices=devices,
        people=[one for one in county().people.all() if one.phone and not one.disabled],
        trees=sorted(county().trees.values(), key=lambda tree: (tree.code or "", tree.title)),
        roles=ROLES,
        numbers=_numbers(),
        first=request.args.get("first", ""),
        last=request.args.get("last", ""),
    )


def _told(form: Form, election: Election) -> list[Told]:
    """The events of one paper form. Every fault is in `form.problems`."""
    places = {place.id for place in county().record.places()}
    at = _time(form, "reported", election, "Type when the call came in.")
    number = form.number("form", "Type the number that is printed on the form.")
    reported: dict[str, object] = {
        "form": str(number),
        "place": form.choice("place", places, "Pick the place."),
        "equipment": form.choice("equipment", _classes()),
        "phase": form.choice("phase", lists.PHASES),
    }
    described: dict[str, object] = {
        "symptom": form.choice("symptom", lists.SYMPTOMS),
        "effect": form.choice("effect", lists.EFFECTS),
        "words": form.free_text("words", "Type what the form says happened."),
    }
    outcome = form.choice("outcome", lists.OUTCOMES)
    restored = _time(form, "restored", election) if form.text("restored") else None
    told = [
        Told("incident.reported", _filled(reported), at),
        Told("incident.described", _filled(described), at),
    ]
    if note := form.free_text("note"):
        told.append(Told("note.added", {"text": note}, at))
    if restored is not None:
        told.append(Told("voting.restored", {}, restored))
    if outcome:
        reason = {} if restored else {"reason": "the paper form gives no time"}
        told.append(Told("incident.closed", {"outcome": outcome} | reason, restored or at))
    return told


def _time(form: Form, name: str, election: Election, need: str = "") -> datetime:
    """A time of day that has passed: of the election's day, or of the night after it."""
    text = form.text(name, need)
    try:
        told = time.fromisoformat(text.zfill(len("00:00")))
    except ValueError:
        if text:
            form.problems[name] = "Type the time as it stands on the form, such as 14:05."
        return now()
    zone, begin = ZoneInfo(election.time_zone), election.window()[0]
    days = (election.date, election.date + timedelta(days=1))
    past = [at for day in days if (at := datetime.combine(day, told, zone)) <= now()]
    if not past:
        form.problems[name] = "That time is still to come. Read the form once more."
        return now()
    return next((at for at in past if at >= begin), past[0])


def _filled(members: dict[str, object]) -> dict[str, object]:
    return {name: value for name, value in members.items() if value}


def _classes() -> set[str]:
    return {item.id for item in county().library.words.equipment}


def _election() -> Election:
    found = county().election(now())
    if found is None:
        raise InputError("No election is set up yet. An administrator imports one first.")
    return found


def _numbers() -> list[int]:
    """The numbers of the blank forms that were asked for."""
    first, last = request.args.get("first", ""), request.args.get("last", "")
    if not (first.isdecimal() and last.isdecimal()):
        return []
    return list(range(int(first[:9]), int(last[:9]) + 1))[:MOST_BLANKS]


def _page(form: Form | None) -> ResponseReturnValue:
    return render_template(
        "record/paper.html",
        election=_election(),
        places=county().record.places(),
        equipment=county().library.words.equipment,
        problems=form.problems if form else {},
        typed=form.typed if form else {},
        form=form,
    ), (422 if form else 200)
