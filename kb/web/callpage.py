"""The page of one call: taking what its notes say, and showing it with the fix beside them."""

from __future__ import annotations

from datetime import datetime

from flask import g, render_template, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.incidents import lists, rollcall
from kb.incidents.incident import Incident
from kb.incidents.places import Place
from kb.incidents.rows import Row
from kb.people.roles import may
from kb.search.hits import Answer
from kb.triage.tree import Tree
from kb.web import callend, callnotes, ends, heard, presence, wholeness
from kb.web.county import county
from kb.web.entries import enter, incident_or_404
from kb.web.forms import Form
from kb.web.walks import Walk

# What a caller may read out to be written down: the task of a stop, and its name.
READINGS = {
    "counter": "Counter",
    "seal": "Seal",
    "compartment": "Opened or closed",
    "witnesses": "Witnesses",
    "ballots": "Ballots moved",
    "tally": "Stored ballots",
    "swap": "Swap",
}


def take_notes(incident: Incident, leave: frozenset[str] = frozenset()) -> tuple[Form, list[Place]]:
    """Enter the notes that the form carries, where they have no fault; keep the rest as a draft.

    The fields in `leave` are not kept.
    """
    form = Form()
    told, offered = callnotes.read(form, incident)
    if not form.problems:
        enter(told, election=incident.election, incident=incident.id)
        heard.searched_again(incident, incident_or_404(incident.id).words)
    keep(incident.id, form, leave | (frozenset() if form.problems else callnotes.FIELDS))
    return form, offered


def keep(identifier: str, form: Form, leave: frozenset[str] = frozenset()) -> None:
    """Keep as a draft what was typed, but for the fields in `leave`."""
    login, record = g.session.account.login, county().record
    shown = callnotes.as_shown(form, incident_or_404(identifier))
    typed = {
        name: value
        for name, value in form.kept(callnotes.FIELDS | callend.FIELDS).items()
        if not callnotes.is_shown(shown, name, value)
    }
    # With scripts each form carries the other's fields too; without, they stay as they were.
    whole = "note" in form.typed and "words" in form.typed
    before = {} if whole else record.draft(login, identifier) or {}
    kept = {name: value for name, value in (before | typed).items() if name not in leave}
    record.save_draft(login, identifier, kept)


def refused(incident: Incident, form: Form, offered: list[Place]) -> ResponseReturnValue:
    """The page again, with the faults and with all that was typed."""
    found = results(incident, form.text("words") or incident.words or "")
    incident = incident_or_404(incident.id)
    return page(incident, form=form, offered=offered, status=422, results=found)


def results(incident: Incident, words: str) -> Answer | None:
    """What the library answers to the words; None where nothing was said."""
    words = words.strip()
    return county().search(words, incident.place) if words else None


def trees() -> list[Tree]:
    """All trees, by title."""
    return sorted(county().trees.values(), key=lambda tree: tree.title)


def article_url(identifier: str, slug: str) -> str:
    """Where a link in an article leads while one is on the phone."""
    if slug in county().trees:
        return url_for("calls.tree", identifier=identifier, slug=slug)
    return url_for("calls.article", identifier=identifier, slug=slug)


def page(incident: Incident, status: int = 200, **panel: object) -> ResponseReturnValue:
    """The page; `panel` is what stands beside the notes: results, an article or a tree."""
    record, login = county().record, g.session.account.login
    presence.seen(incident.id, login, now())
    # The drafts are a person's calls that are not finished.
    drafts = record.drafts(login)
    people = county().people.all()
    place: Place | None = record.place(incident.place) if incident.place else None
    election = record.election(incident.election) if incident.election else None
    values = {
        "incident": incident,
        "number": record.number(incident.id),
        "place": place,
        "next_answer": rollcall.next_answer(
            election, place, record.marks(election.id, place.id).get(place.id, {}), now()
        )
        if election and place
        else None,
        "devices": record.devices(incident.place) if incident.place else [],
        "draft": drafts.get(incident.id) or {},
        "tabs": [row for row in map(record.row, drafts) if row],
        "since": _on_the_phone_since(incident),
        "also_open": presence.others(incident.id, login, now()),
        "answerers": [
            person
            for person in people
            if may(person.roles, "take calls") and not person.disabled and person.login != login
        ],
        "desks": lists.DESKS,
        "rovers": [person for person in people if "rover" in person.roles],
        "others": others_here(incident),
        "lacks": wholeness.lacks(incident),
        "readings": READINGS,
        "trees": trees(),
        "phase": callnotes.phase_now(election, place, now()),
        "place_label": callnotes.place_label(place) if place else "",
        "ends": ends.proposed(walk if isinstance(walk := panel.get("walk"), Walk) else None),
        "voting": ends.VOTING_WORDS,
        "caller_roles": callnotes.CALLER_ROLES,
        "problems": form.problems if isinstance(form := panel.get("form"), Form) else {},
    }
    return render_template("calls/page.html", **values, **panel), status


def others_here(incident: Incident) -> list[Row]:
    """Open incidents of the same place: perhaps this call is about one of them."""
    if not incident.place or not incident.election:
        return []
    rows = county().record.incidents(incident.election, place=incident.place, status="open")
    return [row for row in rows if row.id != incident.id]


def _on_the_phone_since(incident: Incident) -> datetime | None:
    """When the call that is not ended yet was answered."""
    since = None
    for entry in incident.timeline:
        if entry.kind == "call.answered":
            since = entry.at
        elif entry.kind == "call.ended":
            since = None
    return since
