"""A county-wide case in one step: it is opened, the places' cases join it, everyone is told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import format_instant
from kb.incidents import lists
from kb.incidents.notices import SENT
from kb.incidents.places import Election
from kb.incidents.rows import Row
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import Told, case_of_form, election_or_404, enter
from kb.web.forms import Form
from kb.web.notices import articles_to_name

pages = Blueprint("countywide", __name__, url_prefix="/county-wide")


@pages.get("")
@allow("tell everyone")
def begin() -> ResponseReturnValue:
    """The form, filled in from what rises: its kind, its cases, the article opened most."""
    return _page(election_or_404(), None)


@pages.post("")
@allow("tell everyone")
def open_case() -> ResponseReturnValue:
    """Open it, or add to one that is open; then tell everyone."""
    election, form = election_or_404(), Form()
    rows = {row.id: row for row in _candidates(election)}
    joining = form.choices("cases", rows)
    text = form.free_text("text", "Write what everyone must know.")
    article = form.choice("article", {one.slug for one in articles_to_name()})
    equipment = form.choice("equipment", _classes(), "Pick the equipment.")
    symptom = form.choice("symptom", lists.SYMPTOMS, "Pick the symptom.")
    into = form.choice("into", {row.id for row in _standing(election)})
    report_by = form.later("report_by")
    if not joining:
        form.problems["cases"] = "Tick the cases that belong to it."
    if form.problems:
        return _page(election, form)
    case = into or case_of_form()
    reported: dict[str, object] = {"equipment": equipment, "county_wide": True}
    if report_by is not None:
        reported["report_by"] = format_instant(report_by)
    # It stops nobody by itself: the places' own cases say what it does to voting.
    described = {"symptom": symptom, "effect": "none", "words": text}
    about = [] if into else [Told("incident.described", described)]
    opening = [Told("incident.reported", reported), *about]
    enter(opening, election=election.id, incident=case)
    for one in joining:
        if rows[one].parent != case:
            enter([Told("incident.merged", {"parent": case})], election=election.id, incident=one)
    notice = {"text": text, "case": case} | ({"article": article} if article else {})
    enter([Told(SENT, notice)], election=election.id, incident=None)
    return redirect(url_for("incidents.incident", identifier=case), 303)


def _page(election: Election, form: Form | None) -> ResponseReturnValue:
    rows = _candidates(election)
    equipment, _, symptom = request.args.get("kind", "").partition("|")
    if form:
        equipment, symptom = form.text("equipment"), form.text("symptom")
    # Nothing is ticked without a kind: a case without class and symptom is no part of it.
    alike = [
        row for row in rows if equipment and (row.equipment, row.symptom) == (equipment, symptom)
    ]
    asked = set(request.args.getlist("case"))
    ticked = {row.id for row in alike} | asked
    return render_template(
        "now/countywide.html",
        election=election,
        rows=sorted(rows, key=lambda row: (row.id not in ticked, row.number)),
        ticked=set(form.typed.getlist("cases")) if form else ticked,
        places={place.id: place for place in county().record.places()},
        equipment=equipment,
        symptom=symptom,
        classes=_classes(),
        article=form.text("article") if form else _usual(alike),
        articles=articles_to_name(),
        standing=_standing(election),
        problems=form.problems if form else {},
        typed=form.typed if form else {},
        form=form,
    ), (422 if form else 200)


def _usual(rows: Sequence[Row]) -> str:
    """The article that was opened most for these cases."""
    known = {one.slug for one in articles_to_name()}
    opened = Counter(row.article for row in rows if row.article in known)
    return str(opened.most_common(1)[0][0]) if opened else ""


def _classes() -> dict[str, str]:
    return {item.id: item.name for item in county().library.words.equipment}


def _candidates(election: Election) -> list[Row]:
    """The day's cases of places that are no duplicates."""
    rows = county().record.incidents(election.id)
    return [row for row in rows if not (row.county_wide or row.duplicate_of or row.imported)]


def _standing(election: Election) -> list[Row]:
    """The county-wide cases that are open."""
    rows = county().record.incidents(election.id, status="open")
    return [row for row in rows if row.county_wide]
