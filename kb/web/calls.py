"""Calls: one page for one call, from the caller's first words to its outcome.

The call starts the incident by itself. Every form of the page stores what it holds and comes
back to the page; what is typed and not yet sent waits as a draft on the server.
"""

from __future__ import annotations

from datetime import datetime

from flask import Blueprint, g, jsonify, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import InputError
from kb.base.ids import new_id
from kb.incidents.rows import Row
from kb.library.render import render
from kb.web import callend, callnotes, callpage, ends, heard, walks
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import Told, enter, incident_or_404, was_entered
from kb.web.forms import Form

# How many open cases the list shows; the register has all.
SHOWN = 60

pages = Blueprint("calls", __name__, url_prefix="/calls")


@pages.get("")
@allow("take calls")
def board() -> ResponseReturnValue:
    """My calls that are not finished, and the button for the next one."""
    election = county().election(now())
    record = county().record
    rows = record.incidents(election.id, status="open") if election else []
    mine = [record.row(identifier) for identifier in record.drafts(g.session.account.login)]
    places = {place.id: place for place in record.places()}
    return render_template(
        "calls/board.html",
        election=election,
        rows=rows,
        mine=[row for row in mine if row],
        places=places,
        due=sorted((row for row in rows if row.call_back_due), key=_call_back_due),
        at=now(),
        shown=SHOWN,
    )


@pages.post("")
@allow("take calls")
def new_call() -> ResponseReturnValue:
    """Answer the phone: the call's time starts, and its page opens."""
    election = county().election(now())
    if election is None:
        raise InputError(
            "No election is set up yet. An administrator imports elections and places first."
        )
    incident = _fresh(request.form.get("entry", ""))
    enter([Told("call.answered")], election=election.id, incident=incident)
    county().record.save_draft(g.session.account.login, incident, {})
    return redirect(url_for("calls.page", identifier=incident), 303)


@pages.get("/places")
@allow("take calls")
def places() -> ResponseReturnValue:
    """Places for the type-ahead: by name, number, precinct, asset or phone."""
    found = county().record.find_places(request.args.get("q", "")[:80], 8)
    return jsonify(
        [{"value": callnotes.place_label(place), "address": place.address} for place in found]
    )


@pages.get("/<identifier>")
@allow("take calls")
def page(identifier: str) -> ResponseReturnValue:
    """The call, with the results for the caller's words beside it."""
    incident = incident_or_404(identifier)
    return callpage.page(incident, results=callpage.results(incident, incident.words or ""))


@pages.get("/<identifier>/results")
@allow("take calls")
def results(identifier: str) -> ResponseReturnValue:
    """The results alone, for words as they are typed."""
    incident = incident_or_404(identifier)
    words = request.args.get("q", "")
    return render_template(
        "calls/results.html",
        incident=incident,
        results=callpage.results(incident, words),
        trees=callpage.trees(),
    )


@pages.post("/<identifier>/draft")
@allow("take calls")
def draft(identifier: str) -> ResponseReturnValue:
    """Keep what is typed and not yet sent."""
    if incident_or_404(identifier).status == "open":
        callpage.keep(identifier, Form())
    return "", 204


@pages.post("/<identifier>/notes")
@allow("take calls")
def notes(identifier: str) -> ResponseReturnValue:
    """Store the notes of the call: place, words, facts; only what changed becomes an entry."""
    incident = incident_or_404(identifier)
    form, offered = callpage.take_notes(incident)
    if form.problems:
        return callpage.refused(incident, form, offered)
    return redirect(url_for("calls.page", identifier=identifier), 303)


@pages.post("/<identifier>/pick/<slug>")
@allow("take calls")
def pick(identifier: str, slug: str) -> ResponseReturnValue:
    """Open an article from the results; which one was opened for which words is kept."""
    incident = incident_or_404(identifier)
    found = county().library.article(slug)
    form, offered = callpage.take_notes(incident)
    # A fix is never held up by a warning: words that look personal wait as a draft.
    if form.problems.keys() - set(form.personal):
        return callpage.refused(incident, form, offered)
    typed = "" if "words" in form.personal else form.text("words")
    words = typed or incident.words or ""
    picked = Told("search.picked", {"words": words, "article": found.slug, "hash": found.hash})
    enter(
        [picked, *callnotes.from_article(incident_or_404(identifier), found)],
        election=incident.election,
        incident=incident.id,
    )
    return redirect(url_for("calls.article", identifier=identifier, slug=found.slug), 303)


@pages.post("/<identifier>/new")
@allow("take calls")
def log_as_new(identifier: str) -> ResponseReturnValue:
    """Nothing fits: keep the words for the library's authors, and go on to how the call ends."""
    incident = incident_or_404(identifier)
    form, offered = callpage.take_notes(incident)
    if form.problems:
        return callpage.refused(incident, form, offered)
    heard.nothing_opened(incident_or_404(identifier), "new")
    return redirect(url_for("calls.page", identifier=identifier, logged=1, _anchor="ends"), 303)


@pages.get("/<identifier>/article/<slug>")
@allow("take calls")
def article(identifier: str, slug: str) -> ResponseReturnValue:
    """The article beside the notes of the call."""
    found = county().library.article(slug)
    rendered = render(
        found,
        county().answers,
        lambda other: callpage.article_url(identifier, other),
    )
    return callpage.page(incident_or_404(identifier), article=found, rendered=rendered)


@pages.get("/<identifier>/tree/<slug>")
@pages.get("/<identifier>/tree/<slug>/<step>")
@allow("take calls")
def tree(identifier: str, slug: str, step: str | None = None) -> ResponseReturnValue:
    """The tree beside the notes: the next question, or an earlier one to change its answer."""
    incident = incident_or_404(identifier)
    return callpage.page(incident, walk=walks.walk(incident, slug, step))


@pages.post("/<identifier>/tree/<slug>")
@allow("take calls")
def answer(identifier: str, slug: str) -> ResponseReturnValue:
    """Take an answer and go on to the next question; a fault of the notes waits for their turn."""
    incident = incident_or_404(identifier)
    before = ends.proposed(walks.walk(incident, slug))
    typed = request.form
    filled = {name for name in callend.PROPOSED if typed.get(name) == before.get(name)}
    callpage.take_notes(incident, leave=frozenset(filled))
    walks.take_answer(incident, slug)
    return redirect(url_for("calls.tree", identifier=identifier, slug=slug), 303)


@pages.post("/<identifier>/finish")
@allow("take calls")
def finish(identifier: str) -> ResponseReturnValue:
    """Store how the call ended: closed with an outcome, handed to a rover, or kept open."""
    incident = incident_or_404(identifier)
    form, offered = callpage.take_notes(incident)
    told = callend.read(form, incident_or_404(identifier))
    if was_entered(told, incident.id):
        county().record.drop_draft(g.session.account.login, incident.id)
        return redirect(url_for("calls.board"), 303)
    if form.problems:
        return callpage.refused(incident, form, offered)
    enter(told, election=incident.election, incident=incident.id)
    heard.nothing_opened(incident_or_404(identifier))
    county().record.drop_draft(g.session.account.login, incident.id)
    return redirect(url_for("calls.board"), 303)


def _call_back_due(row: Row) -> tuple[datetime, int]:
    if row.call_back_due is None:
        raise ValueError(f"case {row.number} has no call to make")  # callers leave such cases out
    return row.call_back_due, row.number


def _fresh(entry: str) -> str:
    """The id of a new case. A double click is one call; a page kept from before the last is not."""
    record = county().record
    used = record.incident(entry) if entry else None
    return entry if entry and (used is None or len(used.timeline) == 1) else new_id()
