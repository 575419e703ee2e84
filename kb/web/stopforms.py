"""The forms of a stop, read into events: seals, counters, witnesses, what was opened."""

from __future__ import annotations

from flask import g

from kb.incidents import lists, seals
from kb.incidents.incident import Incident
from kb.web.county import county
from kb.web.entries import Told
from kb.web.forms import Form
from kb.web.wholeness import hold_record

COMPARTMENTS = ("main ballot box", "emergency compartment", "scanner cover", "memory door", "other")
SEAL_STATES = ("whole", "broken", "missing", "number differs")
WITNESS_ROLES = ("chief judge", "poll worker", "other sworn person")
WHERE_BALLOTS = (
    "emergency compartment",
    "main ballot box",
    "scanner",
    "sealed container",
    "envelope",
    "office",
)
CONFIRMED_BY = ("signature", "paper number")
MOMENTS = ("before", "after")
MEMORY = (
    "stays in the old device",
    "moved to the new device",
    "sealed in a pouch",
    "has none",
)
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
    if number and "as_read" not in form.typed:
        _ask_again(form, number, way, incident)
    return [Told(f"seal.{way}", body)]


def _ask_again(form: Form, number: str, way: str, incident: Incident) -> None:
    """Ask once about a number that cannot be right as far as the record knows."""
    known = {one for device in county().record.devices(incident.place) for one in device.seals}
    put_on = {one.number for one in incident.seals_on}
    tick = "Read it once more, or tick that it was read twice."
    if way == "applied":
        if seals.plain(number) in {seals.plain(one.number) for one in incident.seals_off}:
            form.problems["other_seal"] = (
                f"{number} was taken off. A seal goes on once only. {tick}"
            )
        return
    reading = seals.compare(number, known | put_on)
    if reading.listed or not known:
        return
    near = f" {reading.near} is: {reading.difference}." if reading.near else ""
    form.problems["other_seal"] = (
        f"{number} is not on the list of seals that were delivered here.{near} {tick} "
        "A seal that differs is for the office: call before anything is opened."
    )


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


def ballots(form: Form, incident: Incident) -> list[Told]:
    """Ballots were put somewhere else."""
    source = form.choice("source", WHERE_BALLOTS, "Say where they were taken from.")
    to = form.choice("to", WHERE_BALLOTS, "Say where they were put.")
    if source and source == to:
        form.problems["to"] = "They were taken from there. Say where they were put."
    body: dict[str, object] = {"from": source, "to": to}
    if container := form.text("container"):
        body["container"] = container
    count = form.number("count")
    if count is not None:
        body["count"] = count
    return [Told("ballots.moved", body)]


def tally(form: Form, incident: Incident) -> list[Told]:
    """What became of the ballots from the emergency compartment; the sum is checked later."""
    body = {
        "stored": form.number("stored", "Count what came out of the emergency compartment."),
        "accepted": form.number("accepted", "Count those that the scanner took; 0 if none."),
        "returned": form.number("returned", "Count those given back to voters; 0 if none."),
    }
    return [Told("ballots.tallied", body)]


def swap(form: Form, incident: Incident) -> list[Told]:
    """A device was taken out of use and another put in its place."""
    old = form.text("other_old") or form.text("old")
    new = form.text("other_new") or form.text("new")
    known = {device.asset for device in county().record.devices()}
    for field, asset, what in (("old", old, "was taken out"), ("new", new, "was put in")):
        if not asset:
            form.problems[f"other_{field}"] = f"Pick the device that {what}, or type its number."
        elif asset not in known:
            form.problems[f"other_{field}"] = f"No device is numbered {asset}. Read its label."
    if old and old == new:
        form.problems["other_new"] = "Both are the same device. Read the two labels again."
    memory = form.choice("memory", MEMORY, "Say where the memory device is now.")
    return [Told("device.swapped", {"old": old, "new": new, "memory": memory})]


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
    body |= hold_record(form, incident)
    if reason := form.free_text("reason"):
        body["reason"] = reason
    if outcome in RESTORING:
        first = incident.started or incident.reported
        when = form.time_from("happened", first) if form.text("happened") else None
        return [Told("voting.restored", happened=when), Told("incident.closed", body)]
    if not reason and outcome:
        form.problems["reason"] = "Say why there is no time at which it worked again."
    return [Told("incident.closed", body)]
