"""Rounds: a rover's stops, and one small task a screen at each of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from flask import Blueprint, g, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import NotFound
from kb.incidents.incident import Incident
from kb.library.article import Article
from kb.library.render import render
from kb.people.roles import may
from kb.web import stopforms, walks, wholeness
from kb.web.access import allow
from kb.web.county import county
from kb.web.ends import VOTING_WORDS
from kb.web.entries import Told, enter, incident_or_404, was_entered
from kb.web.forms import Form

pages = Blueprint("rounds", __name__, url_prefix="/rounds")


@dataclass(frozen=True)
class Task:
    """One thing a rover does at a stop: its name on the button, and how its form is read."""

    name: str
    read: Callable[[Form, Incident], list[Told]]


TASKS = {
    "arrived": Task("I am here", stopforms.arrived),
    "counter": Task("Counter", stopforms.counter),
    "seal": Task("Seal off or on", stopforms.seal),
    "witnesses": Task("Two witnesses", stopforms.witnesses),
    "compartment": Task("Something opened or closed", stopforms.compartment),
    "ballots": Task("Ballots moved", stopforms.ballots),
    "tally": Task("Stored ballots counted up", stopforms.tally),
    "swap": Task("Device swapped", stopforms.swap),
    "note": Task("Note", stopforms.note),
    "restore": Task("It works again", stopforms.restore),
}


@pages.get("")
@allow("work a stop")
def stops() -> ResponseReturnValue:
    """My open stops, most urgent first."""
    election = county().election(now())
    login = g.session.account.login
    rows = county().record.incidents(election.id, rover=login) if election else []
    places = {place.id: place for place in county().record.places()}
    return render_template(
        "rounds/stops.html",
        election=election,
        places=places,
        open_rows=[row for row in rows if row.status == "open"],
        done_rows=[row for row in rows if row.status != "open"],
    )


@pages.get("/<identifier>")
@allow("work a stop")
def stop(identifier: str) -> ResponseReturnValue:
    """One stop: where, whom to call, what was tried, and the tasks."""
    incident = incident_or_404(identifier)
    trees = [article.tree for article in _articles(incident) if article.tree]
    begun = [walk.tree for walk in incident.walks]
    return render_template(
        "rounds/stop.html",
        incident=incident,
        articles=_articles(incident),
        sent_to=_sent_to(incident),
        lacks=wholeness.lacks(incident),
        tasks=TASKS,
        trees=[
            county().trees[slug] for slug in dict.fromkeys(begun + trees) if slug in county().trees
        ],
        **_common(incident),
    )


@pages.get("/<identifier>/do/<task>")
@allow("write down readings")
def task(identifier: str, task: str) -> ResponseReturnValue:
    """The form of one task."""
    return _task_page(incident_or_404(identifier), task)


@pages.post("/<identifier>/do/<task>")
@allow("write down readings")
def take_task(identifier: str, task: str) -> ResponseReturnValue:
    """Store one task."""
    incident = incident_or_404(identifier)
    if task not in TASKS:
        raise NotFound(f"There is no task '{task}' at a stop.")
    form = Form()
    typed = form.time("happened") if form.text("happened") else None
    # The end of a stop knows itself which of its entries the time is meant for.
    happened = None if task == "restore" else typed
    told = TASKS[task].read(form, incident)
    if was_entered(told, incident.id):
        return redirect(_onward(identifier, task), 303)
    if form.problems:
        return _task_page(incident, task, form, 422)
    enter(told, election=incident.election, incident=incident.id, happened=happened)
    return redirect(_onward(identifier, task), 303)


def _onward(identifier: str, task: str) -> str:
    """Where a person goes on after a task: the hotline back to its call."""
    if not may(g.session.account.roles, "work a stop"):
        return url_for("calls.page", identifier=identifier, done=task)
    if task == "restore":
        return url_for("rounds.stops")
    return url_for("rounds.stop", identifier=identifier, done=task)


@pages.get("/<identifier>/tree/<slug>")
@pages.get("/<identifier>/tree/<slug>/<step>")
@allow("work a stop")
def tree(identifier: str, slug: str, step: str | None = None) -> ResponseReturnValue:
    """One question a screen; a walk begun on the phone goes on where it stood."""
    incident = incident_or_404(identifier)
    walk = walks.walk(incident, slug, step)
    return render_template(
        "rounds/walk.html",
        incident=incident,
        walk=walk,
        voting=VOTING_WORDS,
        **_common(incident),
    )


@pages.post("/<identifier>/tree/<slug>")
@allow("work a stop")
def answer(identifier: str, slug: str) -> ResponseReturnValue:
    """Take an answer."""
    walks.take_answer(incident_or_404(identifier), slug)
    return redirect(url_for("rounds.tree", identifier=identifier, slug=slug), 303)


@pages.get("/<identifier>/article/<slug>")
@allow("work a stop")
def article(identifier: str, slug: str) -> ResponseReturnValue:
    """An article, with the way back to the stop."""
    incident = incident_or_404(identifier)
    found = county().library.article(slug)

    def address(other: str) -> str:
        kind = "rounds.tree" if other in county().trees else "rounds.article"
        return url_for(kind, identifier=identifier, slug=other)

    return render_template(
        "rounds/article.html",
        incident=incident,
        article=found,
        rendered=render(found, county().answers, address),
        **_common(incident),
    )


def _sent_to(incident: Incident) -> str:
    """What the rover who was sent last is to do."""
    sent = [entry for entry in incident.timeline if entry.kind == "rover.sent"]
    return str(sent[-1].body.get("reason", "")) if sent else ""


def _articles(incident: Incident) -> list[Article]:
    slugs = dict.fromkeys(pick.slug for pick in incident.articles)
    shelf = county().library.articles
    return [county().library.article(slug) for slug in slugs if slug in shelf]


def _task_page(
    incident: Incident, name: str, form: Form | None = None, status: int = 200
) -> ResponseReturnValue:
    if name not in TASKS:
        raise NotFound(f"There is no task '{name}' at a stop.")
    typed = form.typed if form else {}
    return render_template(
        f"rounds/{name}.html",
        incident=incident,
        task=name,
        title=TASKS[name].name,
        form=form,
        problems=form.problems if form else {},
        typed=typed,
        choices=stopforms,
        lacks=wholeness.lacks(incident),
        spares=[device for device in county().record.devices() if device.spare],
        **_common(incident),
    ), status


def _common(incident: Incident) -> dict[str, object]:
    record = county().record
    return {
        "number": record.number(incident.id),
        "place": record.place(incident.place) if incident.place else None,
        "devices": record.devices(incident.place) if incident.place else [],
    }
