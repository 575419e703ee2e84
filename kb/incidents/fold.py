"""From events to the incident: a pure function, the same for any order of arrival.

A handler looks at one kind of event and returns the fields of the incident that it changes.
Kinds without a handler (a call that was offered, a hold's text) stand in the timeline alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from kb.base.clock import parse_instant
from kb.incidents import custody
from kb.incidents.custody import Changes, Handler
from kb.incidents.effect import effect_of, worst
from kb.incidents.events import Event
from kb.incidents.incident import AnswerGiven, Incident, Picked, Picture, Said, Walk
from kb.incidents.kinds import IMPORTED
from kb.incidents.order import Entry, settle


def fold(events: Iterable[Event]) -> Incident:
    """The incident that these events of it tell; without any, an empty one."""
    timeline = settle(events)
    if not timeline:
        return Incident()
    incident = Incident(
        id=timeline[0].event.incident or "",
        election=timeline[0].event.election or "",
        first=timeline[0].at,
        timeline=timeline,
        late=tuple(entry.id for entry in timeline if entry.late),
    )
    for entry in _effective(timeline):
        handler = HANDLERS.get(entry.kind)
        if handler is not None:
            incident = replace(incident, **handler(incident, entry))
    return incident


def _effective(timeline: Iterable[Entry]) -> list[Entry]:
    """What counts, in order. A row from a file is the ground that later events build on.

    Of several versions of the row the one received last holds.
    """
    standing = [entry for entry in timeline if not entry.struck]
    rows = [entry for entry in standing if entry.kind == IMPORTED]
    rows.sort(key=lambda entry: (entry.event.received, entry.id))
    return rows[-1:] + [entry for entry in standing if entry.kind != IMPORTED]


def _reported(incident: Incident, entry: Entry) -> Changes:
    told = entry.given(
        "place",
        "precinct",
        "phase",
        "equipment",
        "asset",
        "caller_role",
        "call_back",
        "county_wide",
    )
    if incident.place and told.get("place", incident.place) != incident.place:
        # A device stands at one place: with another place it is not known which one is meant.
        told.setdefault("asset", None)
    if "started" in entry.body:
        estimated = bool(entry.body.get("started_estimated"))
        told |= {"started": parse_instant(entry.text("started")), "started_estimated": estimated}
    if "report_by" in entry.body:
        told["report_by"] = parse_instant(entry.text("report_by"))
    return told | {"reported": incident.reported or entry.at}


def _described(incident: Incident, entry: Entry) -> Changes:
    told = entry.given(
        "symptom",
        "ballots_inside",
        "wait_minutes",
        "words",
        "screen",
        "blocks_opening",
        "last_of_class",
        "stored_growing",
        "style_stopped",
        "contingency",
        "ballots_affected",
        "voters_affected",
    )
    if "flags" in entry.body:
        told["flags"] = frozenset(_strings(entry, "flags"))
    if "effect" in entry.body:
        told["effect_said"] = entry.body["effect"]
    return told | _effects(replace(incident, **told))


def _effects(incident: Incident) -> Changes:
    effect = effect_of(
        incident.effect_said,
        wait_minutes=incident.wait_minutes,
        contingency=incident.contingency,
        style_stopped=incident.style_stopped,
    )
    return {"effect": effect, "worst_effect": worst((incident.worst_effect, effect))}


def _strings(entry: Entry, name: str) -> list[str]:
    values = entry.body.get(name)
    return [str(value) for value in values] if isinstance(values, list) else []


def _picked(incident: Incident, entry: Entry) -> Changes:
    picked = Picked(entry.text("article"), entry.text("hash"), entry.text("words"))
    # What the caller said first is the caller's own words until somebody describes it.
    words = incident.words or picked.words or None
    return {"articles": (*incident.articles, picked), "words": words}


def _tree_answered(incident: Incident, entry: Entry) -> Changes:
    tree, hash_ = entry.text("tree"), entry.text("hash")
    name = entry.text("walk") or tree
    walks = {walk.id: walk for walk in incident.walks}
    step, answer = entry.text("step"), entry.text("answer")
    given = AnswerGiven(tree, hash_, step, answer, entry.actor, entry.at)
    walks[name] = walks.get(name, Walk(name, tree, hash_)).answered(given)
    return {"walks": tuple(walks.values())}


def _call_answered(incident: Incident, entry: Entry) -> Changes:
    return {"answered": incident.answered or entry.at, "call_back_due": None}


def _call_ended(_: Incident, entry: Entry) -> Changes:
    return {"call_back_due": parse_instant(entry.text("due"))} if "due" in entry.body else {}


def _rover_sent(incident: Incident, entry: Entry) -> Changes:
    rover = entry.body["rover"]
    there = incident.rover_there and rover == incident.rover
    return {"dispatched": incident.dispatched or entry.at, "rover": rover, "rover_there": there}


def _rover_arrived(incident: Incident, entry: Entry) -> Changes:
    rover = entry.body["rover"]
    return {"arrived": incident.arrived or entry.at, "rover": rover, "rover_there": True}


def _said(entry: Entry) -> Said:
    return Said(entry.text("text"), entry.text("who_else"), entry.at, entry.actor)


def _note_added(incident: Incident, entry: Entry) -> Changes:
    return {"notes": (*incident.notes, _said(entry))}


def _picture_added(incident: Incident, entry: Entry) -> Changes:
    if "picture" in entry.withheld:
        return {}
    added = Picture(entry.text("picture"), entry.text("text"), entry.at, entry.actor)
    return {"pictures": (*incident.pictures, added)}


def _decision_made(incident: Incident, entry: Entry) -> Changes:
    return {"decisions": (*incident.decisions, _said(entry))}


def _voting_restored(_: Incident, entry: Entry) -> Changes:
    told = entry.given("outcome", "cause", "cause_confidence", "reason")
    return told | {"restored": entry.at}


def _closed(_: Incident, entry: Entry) -> Changes:
    told = entry.given("outcome", "cause", "cause_confidence", "reason", "incomplete")
    return told | {"closed": entry.at, "call_back_due": None}


def _reopened(_: Incident, entry: Entry) -> Changes:
    """The case is open again: nothing that said it was over holds any more."""
    cleared = dict.fromkeys(
        ("closed", "restored", "outcome", "reason", "incomplete", "duplicate_of")
    )
    return cleared | entry.given("cause", "cause_confidence")


def _merged(_: Incident, entry: Entry) -> Changes:
    told = entry.given("parent")
    if "into" in entry.body:
        told |= {"duplicate_of": entry.body["into"], "outcome": "duplicate", "closed": entry.at}
    return told


def _hold_placed(_: Incident, __: Entry) -> Changes:
    return {"held": True}


def _hold_lifted(_: Incident, __: Entry) -> Changes:
    return {"held": False}


def _imported(incident: Incident, entry: Entry) -> Changes:
    told = entry.given(
        "place",
        "asset",
        "equipment",
        "symptom",
        "phase",
        "effect",
        "outcome",
        "cause",
        "cause_confidence",
        "ballots_affected",
        "voters_affected",
        "duplicate_of",
    )
    times: dict[str, datetime] = {
        name: parse_instant(entry.text(f"{name}_at"))
        for name in ("started", "reported", "dispatched", "arrived", "restored")
        if f"{name}_at" in entry.body
    }
    told |= times | {"words": entry.body.get("caller_words"), "imported": True}
    told |= {"effect_said": told.get("effect"), "worst_effect": told.get("effect")}
    told["flags"] = frozenset(_strings(entry, "flags"))
    if "article" in entry.body:
        told["articles"] = (Picked(entry.text("article"), "", ""),)
    if "note" in entry.body:
        told["notes"] = (Said(entry.text("note"), "", entry.at, entry.actor),)
    if "outcome" in entry.body:
        told["closed"] = max(times.values(), default=incident.first)
    return told


HANDLERS: dict[str, Handler] = custody.HANDLERS | {
    IMPORTED: _imported,
    "incident.reported": _reported,
    "incident.described": _described,
    "search.picked": _picked,
    "tree.answered": _tree_answered,
    "call.answered": _call_answered,
    "call.ended": _call_ended,
    "rover.sent": _rover_sent,
    "rover.arrived": _rover_arrived,
    "note.added": _note_added,
    "picture.added": _picture_added,
    "decision.made": _decision_made,
    "voting.restored": _voting_restored,
    "incident.closed": _closed,
    "incident.reopened": _reopened,
    "incident.merged": _merged,
    "hold.placed": _hold_placed,
    "hold.lifted": _hold_lifted,
}
