"""Texts that may have to be hidden: a machine points at them, a person decides about each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import InputError, NotFound
from kb.incidents.bodies import TYPED_MEMBERS, named_members
from kb.incidents.events import Event
from kb.incidents.kinds import WITHHELD
from kb.incidents.offered import is_offered
from kb.incidents.personal import looks_personal
from kb.incidents.places import Election
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import Told, enter
from kb.web.forms import Form

pages = Blueprint("redactions", __name__, url_prefix="/redactions")

CLEARED = "text.cleared"
# Names of witnesses, telephone numbers and seals are never public, and needed in the record.
NEVER_PUBLIC = frozenset({"name", "call_back", "confirmed_by", "decided_by", "owner", "seal"})
ABOUT_ENTRIES = frozenset({WITHHELD, CLEARED, "event.corrected", "correction.asked"})
PAGE = 50


@dataclass(frozen=True)
class Undecided:
    """A text that nobody has decided about, wherever it stands word for word."""

    text: str
    looks: tuple[str, ...]
    places: tuple[tuple[Event, str], ...]


@pages.get("")
@allow("withhold texts")
def board() -> ResponseReturnValue:
    """The texts, those first that look as if they name somebody."""
    election = _election()
    found = undecided(county().record.events(election=election.id))
    return render_template(
        "redactions/board.html",
        election=election,
        texts=found[:PAGE],
        left=len(found),
        personal=sum(bool(one.looks) for one in found),
        numbers={
            event.incident: county().record.number(event.incident)
            for one in found[:PAGE]
            for event, _ in one.places
            if event.incident
        },
    )


@pages.post("")
@allow("withhold texts")
def decide() -> ResponseReturnValue:
    """Redact a text everywhere it stands, or find it fit for the public copy."""
    election, form = _election(), Form()
    text = request.form.get("text", "")
    events = county().record.events(election=election.id)
    found = next((one for one in undecided(events) if one.text == text), None)
    if found is None:
        raise NotFound("Somebody has decided about this text already.")
    redact = request.form.get("do") == "redact"
    reason = form.text("reason")
    if redact and not reason:
        raise InputError("Say why it is redacted, without repeating it. Go back and fill it in.")
    for event, member in found.places:
        body: dict[str, object] = {"event": event.id, "members": [member]}
        if redact:
            body["reason"] = reason
        kind = WITHHELD if redact else CLEARED
        enter([Told(kind, body)], election=election.id, incident=event.incident)
    if redact:
        county().folder.learning.forget(text)
    return redirect(url_for("redactions.board"), 303)


def undecided(events: Iterable[Event]) -> list[Undecided]:
    """Every typed text that is neither redacted nor cleared; what looks personal first."""
    every = list(events)
    done = {
        (str(event.body["event"]), member)
        for event in every
        if event.kind in {WITHHELD, CLEARED}
        for member in named_members(event.body)
    }
    places: dict[str, list[tuple[Event, str]]] = {}
    for event in every:
        for member, text in _texts(event):
            if (event.id, member) not in done:
                places.setdefault(text, []).append((event, member))
    found = [
        Undecided(text, tuple(looks_personal(text)), tuple(where)) for text, where in places.items()
    ]
    return sorted(found, key=lambda one: (not one.looks, one.places[0][0].received))


def _texts(event: Event) -> Iterator[tuple[str, str]]:
    if event.kind in ABOUT_ENTRIES:
        return
    for member, value in event.body.items():
        if member not in TYPED_MEMBERS - NEVER_PUBLIC or is_offered(member, value):
            continue
        if isinstance(value, str) and value:
            yield member, value


def _election() -> Election:
    wanted = request.values.get("election", "")
    found = county().record.election(wanted) if wanted else county().election(now())
    if found is None:
        raise NotFound("There is no such election here. The register of incidents lists them.")
    return found
