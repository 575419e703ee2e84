"""The closed set of event kinds, and the check of a body against its kind.

A new kind is one line here, one in `roles.py`, and, where it says something about an
incident, one in `fold.py`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping

import rfc8785
from pydantic import ValidationError

from kb.base.errors import Problem
from kb.incidents import bodies, places
from kb.incidents.values import Body

CORRECTED = "event.corrected"
WITHHELD = "text.withheld"
IMPORTED = "incident.imported"
# Entries about entries, which are never corrected: each would undo what somebody else decided.
FINAL = frozenset(
    {
        WITHHELD,
        "text.cleared",
        "correction.asked",
        "correction.refused",
        "hold.placed",
        "hold.lifted",
    }
)

KINDS: dict[str, type[Body]] = {
    "call.offered": bodies.Call,
    "call.answered": bodies.Call,
    "call.ended": bodies.Call,
    "call.handed": bodies.Handed,
    "incident.reported": bodies.Reported,
    "incident.described": bodies.Described,
    "search.picked": bodies.Picked,
    "tree.answered": bodies.TreeAnswered,
    "rover.sent": bodies.Rover,
    "rover.arrived": bodies.Rover,
    "seal.removed": bodies.Seal,
    "seal.applied": bodies.Seal,
    "compartment.opened": bodies.Compartment,
    "compartment.closed": bodies.Compartment,
    "counter.read": bodies.CounterRead,
    "witness.named": bodies.Witness,
    "ballots.moved": bodies.BallotsMoved,
    "ballots.tallied": bodies.BallotsTallied,
    "device.swapped": bodies.Swapped,
    "note.added": bodies.Said,
    "picture.added": bodies.Picture,
    "decision.made": bodies.Decided,
    "voting.restored": bodies.Ended,
    "incident.closed": bodies.Ended,
    "incident.reopened": bodies.Ended,
    "incident.merged": bodies.Merged,
    CORRECTED: bodies.Corrected,
    "correction.asked": bodies.CorrectionAsked,
    "correction.refused": bodies.CorrectionRefused,
    WITHHELD: bodies.Withheld,
    "text.cleared": bodies.Cleared,
    "hold.placed": bodies.Hold,
    "hold.lifted": bodies.Hold,
    "notice.sent": bodies.Notice,
    "notice.read": bodies.NoticeRead,
    "action.stated": bodies.ActionStated,
    "place.ready": bodies.Mark,
    "place.opened": bodies.Mark,
    "place.closed": bodies.Mark,
    "materials.left": bodies.Mark,
    "materials.received": bodies.Mark,
    "election.recorded": places.Election,
    "place.recorded": places.Place,
    "device.recorded": places.Device,
    "person.recorded": places.Person,
    "place.reconciled": bodies.Reconciled,
    "shift.stated": bodies.ShiftStated,
    "forms.issued": bodies.FormsIssued,
    "form.accounted": bodies.FormAccounted,
    "log.received": bodies.LogReceived,
    "exposure.recorded": places.Exposure,
    "call.recorded": places.CallRow,
    "shift.recorded": places.Shift,
    IMPORTED: places.ImportedIncident,
}

# The roll call of a place, in the order of the day.
MARKS = ("place.ready", "place.opened", "place.closed", "materials.left", "materials.received")
# Rows that belong to the county, not to one election.
COUNTY = frozenset(
    {
        "election.recorded",
        "place.recorded",
        "device.recorded",
        "person.recorded",
        "shift.recorded",
    }
)
# Rows, roll call and what closes a day: about a place or the office, never about one case.
NOT_OF_AN_INCIDENT = COUNTY | {
    *MARKS,
    "notice.sent",
    "notice.read",
    "action.stated",
    "exposure.recorded",
    "call.recorded",
    "place.reconciled",
    "shift.stated",
    "forms.issued",
    "form.accounted",
    "log.received",
}
# Kinds that say nothing without an incident.
OF_AN_INCIDENT = frozenset(
    {
        "call.handed",
        "picture.added",
        "incident.reported",
        "incident.described",
        "tree.answered",
        "rover.sent",
        "rover.arrived",
        "voting.restored",
        "incident.closed",
        "incident.reopened",
        "incident.merged",
        IMPORTED,
    }
)


def check_body(
    kind: str, body: Mapping[str, object], where: str
) -> tuple[dict[str, object], list[Problem]]:
    """The body in its one canonical form, or every fault of it.

    Members that are null or empty text are left out: they mean "not known".
    """
    known = {name: value for name, value in body.items() if value is not None and value != ""}
    try:
        text = rfc8785.dumps(known)  # type: ignore[arg-type]  # it says itself what is not JSON
    except (rfc8785.CanonicalizationError, UnicodeEncodeError, RecursionError) as error:
        return {}, [Problem(where, 0, "BODY", f"the body of {kind} is not plain JSON: {error}")]
    try:
        model = KINDS[kind].model_validate_json(text)
    except ValidationError as error:
        return {}, [_problem(kind, where, fault["loc"], fault["msg"]) for fault in error.errors()]
    told = model.model_dump(mode="json", by_alias=True, exclude_unset=True)
    return json.loads(rfc8785.dumps(told)), []


def _problem(kind: str, where: str, location: tuple[int | str, ...], message: str) -> Problem:
    # A union's choices appear in the location by the names of functions: not for people.
    name = ".".join(str(part) for part in location if "[" not in str(part))
    if message.startswith("Extra inputs"):
        fields = KINDS[kind].model_fields.items()
        known = ", ".join(field.alias or member for member, field in fields)
        message = f"is not part of {kind} (its members: {known})"
    elif message == "Field required":
        message = f"is missing; {kind} needs it"
    elif "match pattern" in message:
        message = "must be an id without spaces"
    message = message.removeprefix("Value error, ")
    return Problem(where, 0, "BODY", f"{name or kind}: {message}", field=name)
