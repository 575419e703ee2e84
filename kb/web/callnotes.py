"""The notes of a call as fields of a form, and what of them is new to the record."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from kb.incidents import lists
from kb.incidents.incident import Incident
from kb.incidents.places import Election, Place
from kb.library.article import Article
from kb.web.county import county
from kb.web.entries import Told
from kb.web.forms import Form
from kb.web.walks import Walk

# Fields that a draft keeps while they are typed.
FIELDS = frozenset(
    {
        "place",
        "words",
        "caller_role",
        "call_back",
        "phase",
        "equipment",
        "asset",
        "symptom",
        "effect",
        "flags",
        "wait_minutes",
        "note",
        "outcome",
        "restored",
        "no_restored",
        "cause",
    }
)
CALLER_ROLES = (
    "chief judge",
    "poll worker",
    "rover",
    "voter",
    "observer",
    "building staff",
    "other",
)

# What the end of a tree proposes for the finish of the call. The person decides.
END_OUTCOMES = {
    "fixed": "fixed-by-phone",
    "contingency": "contingency-to-close",
    "secure": "stopped-and-secured",
    "emergency": "passed-to-police-or-fire",
    "supervisor": "passed-to-supervisor",
}
VOTING_EFFECTS = {
    "same-device": "device",
    "other-unit": "device",
    "emergency-bin": "slowed",
    "paper-list": "slowed",
    "moved": "slowed",
    "stopped": "stopped",
}
VOTING_WORDS = {
    "same-device": "Voting goes on at the same device.",
    "emergency-bin": "Voting goes on: voters put their ballots in the emergency compartment.",
    "paper-list": "Voting goes on: check voters in on the paper list.",
    "other-unit": "Voting goes on at another unit.",
    "moved": "Voting goes on at another spot that the office names.",
    "stopped": "Voting has stopped here. The office decides how it goes on.",
}


def place_label(place: Place) -> str:
    """How a place is written in the field, and read back from it."""
    return f"{place.id} · {place.name}"


def phase_now(election: Election | None, place: Place | None, now: datetime) -> str:
    """The phase by the clock: what a caller most likely calls about."""
    if election is None:
        return ""
    opens, closes = election.opening(place), election.closing(place)
    if now < opens - timedelta(minutes=45):
        return "set-up"
    if now < opens + timedelta(minutes=15):
        return "opening"
    if now < closes:
        return "voting"
    return "closing" if now < closes + timedelta(hours=2) else "return"


def read(form: Form, incident: Incident) -> tuple[list[Told], list[Place]]:
    """What the notes say that the record does not: events, and places to choose from.

    The record keeps each fact once; only fields that changed are told again.
    """
    place, offered = _place(form)
    reported: dict[str, object] = {
        "place": place,
        "caller_role": form.choice("caller_role", CALLER_ROLES),
        "call_back": form.text("call_back"),
        "phase": form.choice("phase", lists.PHASES),
    }
    if incident.place == place:
        asset = form.text("asset")
        known = (
            {device.asset: device.equipment for device in county().record.devices(place)}
            if place
            else {}
        )
        reported["asset"] = asset
        reported["equipment"] = known.get(asset) or form.text("equipment")
    described: dict[str, object] = {"words": form.text("words")}
    told: list[Told] = []
    if changed := _changed(reported, incident):
        told.append(Told("incident.reported", changed))
    if changed := _changed(described, incident):
        told.append(Told("incident.described", changed))
    return told, offered


def from_article(incident: Incident, article: Article) -> list[Told]:
    """What an opened article says of the case: its class, unless a device is named; its symptom.

    The article opened last holds, and the finish of the call can say otherwise.
    """
    told: list[Told] = []
    if incident.asset is None and (new := _changed({"equipment": article.equipment}, incident)):
        told.append(Told("incident.reported", new))
    if new := _changed({"symptom": article.symptom}, incident):
        told.append(Told("incident.described", new))
    return told


def read_finish(form: Form, incident: Incident) -> list[Told]:
    """How the call ended. Every fault is in `form.problems`."""
    told: list[Told] = []
    effect = form.choice("effect", lists.EFFECTS, "Say what it does to voting.")
    flags = form.choices("flags", lists.FLAGS)
    described: dict[str, object] = {
        "effect": effect,
        "symptom": form.choice("symptom", lists.SYMPTOMS),
        "wait_minutes": form.number("wait_minutes"),
    }
    changed = _changed(described, incident)
    if set(flags) != set(incident.flags):
        changed["flags"] = flags
    if changed:
        told.append(Told("incident.described", changed))
    if note := form.text("note"):
        told.append(Told("note.added", {"text": note}))
    way = form.choice("way", {"close", "rover", "open"}, "Say how the call ends.")
    if way == "rover":
        told += _rover(form)
    elif way == "close":
        told += _close(form)
    told.append(Told("call.ended", {"place": incident.place} if incident.place else {}))
    return told


def end_values(walk: object) -> dict[str, str]:
    """What the end of a walk fills in: outcome, effect, and the way the call goes on."""
    if not isinstance(walk, Walk) or walk.step.kind != "end":
        return {}
    outcome, voting = walk.step.outcome or "", walk.step.voting or ""
    return {
        "way": "rover"
        if outcome in {"rover", "swap"}
        else "open"
        if outcome == "contingency"
        else "close",
        "outcome": END_OUTCOMES.get(outcome, ""),
        "effect": walk.step.effect or VOTING_EFFECTS.get(voting, ""),
        "voting": VOTING_WORDS.get(voting, ""),
        "reason": "swap the device" if outcome == "swap" else walk.step.heading,
    }


def _place(form: Form) -> tuple[str | None, list[Place]]:
    """The place that was typed; where several fit, they are offered."""
    typed = form.text("place_pick") or form.text("place")
    if not typed:
        return None, []
    record = county().record
    exact = record.place(typed.partition(" · ")[0])
    if exact is not None:
        return exact.id, []
    found = record.find_places(typed, 8)
    if len(found) == 1:
        return found[0].id, []
    form.problems["place"] = (
        "Several places fit. Pick one below."
        if found
        else f"No place fits “{typed}”. Try its number, a word of its name, or its phone."
    )
    return None, found


def _changed(told: Mapping[str, object], incident: Incident) -> dict[str, object]:
    return {
        name: value
        for name, value in told.items()
        if value not in ("", None) and value != getattr(incident, name)
    }


def _rover(form: Form) -> list[Told]:
    rovers = {person.login for person in county().people.all() if "rover" in person.roles}
    rover = form.choice("rover", rovers, "Pick the rover to send.")
    reason = form.text("reason")
    return [Told("rover.sent", {"rover": rover} | ({"reason": reason} if reason else {}))]


def _close(form: Form) -> list[Told]:
    """Closing needs the time voting was whole again, or the reason why there is none."""
    outcome = form.choice("outcome", lists.OUTCOMES, "Pick the outcome.")
    cause = form.choice("cause", lists.CAUSES)
    confidence = form.choice("cause_confidence", lists.CONFIDENCES)
    reason = form.text("no_restored")
    told: list[Told] = []
    body: dict[str, object] = {"outcome": outcome}
    if form.text("restored"):
        told.append(Told("voting.restored", happened=form.time("restored")))
    elif reason:
        body["reason"] = reason
    else:
        form.problems["restored"] = (
            "Give the time it worked again, or the reason why there is none."
        )
    if cause:
        body |= {"cause": cause, "cause_confidence": confidence or "unknown"}
    return [*told, Told("incident.closed", body)]
