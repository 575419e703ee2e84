"""How a call ends, read from its form: closed, handed to a rover, or kept open."""

from __future__ import annotations

from kb.base.clock import format_instant
from kb.incidents import lists
from kb.incidents.incident import Incident
from kb.web.callnotes import as_shown, changed
from kb.web.county import county
from kb.web.entries import Told
from kb.web.forms import Form
from kb.web.wholeness import hold_record

# The fields that a draft keeps.
FIELDS = frozenset(
    {"effect", "flags", "wait_minutes", "symptom", "note", "way", "outcome"}
    | {"restored", "no_restored", "rover", "reason", "incomplete", "due", "passed_to"}
)
# Those that the end of a tree fills in: a new answer lets it propose them anew.
PROPOSED = frozenset({"effect", "way", "outcome", "reason"})


def read(form: Form, incident: Incident) -> list[Told]:
    """The events of the end. Every fault is in `form.problems`."""
    shown = as_shown(form, incident)
    ticked = set(form.choices("flags", lists.FLAGS))
    # What was ticked and what was taken away here; what others ticked meanwhile stays.
    flags = (incident.flags | (ticked - shown.flags)) - (shown.flags - ticked)
    way = form.choice("way", {"close", "rover", "open", "pass"}, "Say what happens next.")
    # A question for another desk does nothing to voting, unless the answerer says so.
    effect = form.choice(
        "effect", lists.EFFECTS, "" if way == "pass" else "Say what it does to voting."
    )
    described: dict[str, object] = {
        "effect": effect or ("none" if way == "pass" else ""),
        "symptom": form.choice("symptom", lists.SYMPTOMS),
        "wait_minutes": form.number("wait_minutes"),
    }
    new = changed(described, incident, shown)
    if flags != incident.flags:
        new["flags"] = sorted(flags)
    told = [Told("incident.described", new)] if new else []
    if note := form.free_text("note"):
        told.append(Told("note.added", {"text": note}))
    if way in {"rover", "close", "pass"} and incident.status == "closed":
        form.problems["way"] = (
            "This case was closed meanwhile. Pick the last choice to store a note with it, or "
            "answer a new call."
        )
    if way == "rover":
        told += _rover(form)
    elif way == "close":
        told += _close(form, incident)
    ended: dict[str, object] = {"place": incident.place} if incident.place else {}
    if way == "pass":
        ended["passed_to"] = form.choice("passed_to", lists.DESKS, "Pick the desk.")
        told.append(
            Told(
                "incident.closed",
                {"outcome": "not-equipment", "reason": "passed to another desk"},
            )
        )
    if way == "open" and (due := form.later("due")) is not None:
        ended["due"] = format_instant(due)
    return [*told, Told("call.ended", ended)]


def _rover(form: Form) -> list[Told]:
    rovers = {person.login for person in county().people.all() if "rover" in person.roles}
    body = {"rover": form.choice("rover", rovers, "Pick the rover to send.")}
    if reason := form.free_text("reason"):
        body["reason"] = reason
    return [Told("rover.sent", body)]


def _close(form: Form, incident: Incident) -> list[Told]:
    """Closing needs the time voting was whole again, or the reason why there is none."""
    body: dict[str, object] = {
        "outcome": form.choice("outcome", lists.OUTCOMES, "Pick the outcome.")
    }
    body |= hold_record(form, incident)
    restored, reason = form.text("restored"), form.free_text("no_restored")
    if reason:
        body["reason"] = reason
    first = incident.started or incident.reported
    if restored:
        return [
            Told("voting.restored", happened=form.time_from("restored", first)),
            Told("incident.closed", body),
        ]
    if not reason:
        form.problems["restored"] = "Give the time it worked again, or why there is none."
    return [Told("incident.closed", body)]
