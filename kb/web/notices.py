"""Notices to everyone: sent by a lead, read by each answerer and rover, with receipts."""

from __future__ import annotations

from flask import Blueprint, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import NotFound
from kb.incidents.notices import READ, READERS, SENT, Notice, notices, unread
from kb.incidents.places import Election
from kb.library.article import Article
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import Told, election_or_404, enter
from kb.web.forms import Form, inside

pages = Blueprint("notices", __name__, url_prefix="/notices")


@pages.get("")
@allow("write down readings")
def board() -> ResponseReturnValue:
    """All notices of the election, and who has not read them yet."""
    return _page(election_or_404(), None)


@pages.post("")
@allow("tell everyone")
def send() -> ResponseReturnValue:
    """Tell everyone."""
    election, form = election_or_404(), Form()
    body: dict[str, object] = {"text": form.free_text("text", "Write what everyone must know.")}
    article = form.choice("article", county().library.articles)
    if form.problems:
        return _page(election, form)
    if article:
        body["article"] = article
    enter([Told(SENT, body)], election=election.id, incident=None)
    return redirect(url_for("notices.board"), 303)


@pages.post("/<identifier>/read")
@allow("write down readings")
def read(identifier: str) -> ResponseReturnValue:
    """Say that one has read it."""
    election = election_or_404()
    found = next((one for one in of_day(election) if one.id == identifier), None)
    if found is None:
        raise NotFound("There is no such notice in this election.")
    if g.session.account.login not in found.read:
        enter([Told(READ, {"notice": identifier})], election=election.id, incident=None)
    # Back to the page where it was read.
    return redirect(inside(request.form.get("back", "")) or url_for("notices.board"), 303)


def of_day(election: Election) -> list[Notice]:
    """The notices of an election, the newest first."""
    record = county().record
    return notices(record.standing(SENT, election.id), record.told(READ, election.id))


def articles_to_name() -> list[Article]:
    """The articles that a notice can name, by title."""
    known = county().library.articles.values()
    named = [one for one in known if not one.redirect and one.language == "en"]
    return sorted(named, key=lambda one: one.title)


def unread_now() -> list[Notice]:
    """What the person who looks at this page has not read yet."""
    session = g.get("session")
    if session is None or not session.whole or READERS.isdisjoint(session.account.roles):
        return []
    election = county().election(now())
    return unread(of_day(election), session.account.login) if election else []


def _page(election: Election, form: Form | None) -> ResponseReturnValue:
    readers = [
        person
        for person in county().people.all()
        if not READERS.isdisjoint(person.roles) and not person.disabled
    ]
    return render_template(
        "now/notices.html",
        election=election,
        notices=of_day(election),
        readers=readers,
        articles=articles_to_name(),
        problems=form.problems if form else {},
        typed=form.typed if form else {},
        form=form,
    ), (422 if form else 200)
