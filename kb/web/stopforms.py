"""The forms of a stop, read into events: seals, counters, witnesses, what was opened."""

from __future__ import annotations

from flask import g

from kb.incidents import lists
from kb.incidents.incident import Incident
from kb.web.county import county
from kb.web.entries import Told
from kb.web.forms import Form

COMPARTMENTS = ("main ballot box", "emergency compartment", "scanner cover", "memory door", "other")
SEAL_STATES = ("whole", "broken", "missing", "number differs")
WITNESS_ROLES = ("chief judge", "poll worker", "other sworn person")
CONFIRMED_BY = ("signature", "paper number")
MOMENTS = ("before", "after")
ON_SITE_OUTCOMES = (
    "fixed-on-site",
    "contingency-then-fixed",
    "device-swapped",
    "contingency-to-close",
    "stopped-and-secured",
    "passed-to-supervisor",
    "no-fault-found",
)
# After these the device or its replacement works: the time of it is asked for.
RESTORING = frozenset(
    {
        "fixed-on-site",
        "contingency-then-fixed",
        "device-swapped",
        "no-fault-found",
    }
)


def arrived(form: Form, incident: Incident) -> list[Told]:
    """The rover stands at the place."""
    return [Told("rover.arrived", {"rover": g.session.account.login})]


def counter(form: Form, incident: Incident) -> list[Told]:
    """What the counters of a device show now."""
    asset = form.text("other_asset") or form.text("asset")
    if not asset:
        form.problems["asset"] = "Pick the device whose counter you read, or type its number."
    elif asset not in {device.asset for device in county().record.devices()}:
        form.problems["other_asset"] = f"No device is numbered {asset}. Read its label once more."
    public = form.number("public", "Type the public counter as the screen shows it.")
    body: dict[str, object] = {
        "asset": asset,
        "public": public,
        "protective": form.number("protective"),
        "moment": form.choice("moment", MOMENTS, "Say whether this was before or after the work."),
    }
    return [Told("counter.read", body)]


def seal(form: Form, incident: Incident) -> list[Told]:
    """A seal taken off or put on; picked from the delivered list, or typed where it is another."""
    number = form.text("other_seal") or form.text("seal")
    if not number:
        form.problems["seal"] = "Pick the seal from the list, or type the number that you see."
    body: dict[str, object] = {
        "seal": number,
        "where": form.choice("where", COMPARTMENTS, "Say where the seal sits."),
        "state": form.choice("state", SEAL_STATES, "Say in what state the seal is."),
    }
    way = form.choice("way", {"removed", "applied"}, "Say whether it came off or went on.")
    return [Told(f"seal.{way}", body)]


def witnesses(form: Form, incident: Incident) -> list[Told]:
    """Two different persons, each with their own confirmation on paper."""
    told: list[Told] = []
    names = []
    for place in ("1", "2"):
        name = form.text(f"name{place}", f"Name witness {place}.")
        names.append(name.casefold())
        role = form.choice(f"role{place}", WITNESS_ROLES, f"Say what witness {place} is here.")
        confirmed = form.choice(
            f"confirmed{place}", CONFIRMED_BY, f"Say how witness {place} confirmed it."
        )
        body: dict[str, object] = {"name": name, "role": role, "confirmed_by": confirmed}
        told.append(Told("witness.named", body))
    if names[0] and names[0] == names[1]:
        form.problems["name2"] = "Two different persons must witness. Name another one."
    return told


def compartment(form: Form, incident: Incident) -> list[Told]:
    """Something sealed was opened or closed."""
    way = form.choice("way", {"opened", "closed"}, "Say whether it was opened or closed.")
    what = form.choice("compartment", COMPARTMENTS, "Say what was opened or closed.")
    return [Told(f"compartment.{way}", {"compartment": what})]


def note(form: Form, incident: Incident) -> list[Told]:
    """Anything else that somebody will ask about later."""
    return [Told("note.added", {"text": form.free_text("text", "Write the note, or go back.")})]


def restore(form: Form, incident: Incident) -> list[Told]:
    """The end of the stop: voting is whole again, or it is not and someone else goes on."""
    outcome = form.choice("outcome", ON_SITE_OUTCOMES, "Say how it ended.")
    body: dict[str, object] = {"outcome": outcome}
    if cause := form.choice("cause", lists.CAUSES):
        confidence = form.choice("confidence", lists.CONFIDENCES) or "unknown"
        body |= {"cause": cause, "cause_confidence": confidence}
    if incident.status == "closed":
        form.problems["outcome"] = "This case is closed already. Store a note instead, or call."
    if reason := form.free_text("reason"):
        body["reason"] = reason
    if outcome in RESTORING:
        when = form.time("happened") if form.text("happened") else None
        return [Told("voting.restored", happened=when), Told("incident.closed", body)]
    if not reason and outcome:
        form.problems["reason"] = "Say why there is no time at which it worked again."
    return [Told("incident.closed", body)]
