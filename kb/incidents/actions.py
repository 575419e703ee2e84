"""Corrective actions: what is to be done about a finding, by whom, until when, and what shows it.

An action is stated whole each time, so its history is the entries themselves.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal, get_args

from kb.incidents.events import Event

STATED = "action.stated"
State = Literal["planned", "started", "done", "dropped"]
STATES: tuple[State, ...] = get_args(State)
# What an action changes: the elements of the improvement plan of the HSEEP after-action report
# (from memory).
Element = Literal["planning", "organization", "equipment", "training", "exercise"]
ELEMENTS: tuple[Element, ...] = get_args(Element)


@dataclass(frozen=True)
class Action:
    """An action as it stands.

    `measure` is a JSON Pointer into the review, `base` its number at the election where the
    finding was made, `wanted` the way it should go.
    """

    id: str
    election: str
    finding: str
    issue: str
    text: str
    element: str
    owner: str
    due: date
    state: str
    measure: str
    base: float | None
    wanted: str
    note: str
    first: datetime
    last: datetime
    by: str

    @property
    def open(self) -> bool:
        """Whether it is still to be done."""
        return self.state in {"planned", "started"}

    def overdue(self, today: date) -> bool:
        """Whether its day is over and it is not done."""
        return self.open and self.due < today


def actions(events: Iterable[Event]) -> list[Action]:
    """All actions as they stand now, those due first at the top; the last telling holds."""
    first: dict[str, datetime] = {}
    found: dict[str, Action] = {}
    for event in sorted(events, key=lambda one: (one.received, one.id)):
        body = event.body
        name = str(body["action"])
        first.setdefault(name, event.happened)
        base = body.get("base")
        found[name] = Action(
            id=name,
            election=str(event.election),
            finding=event.told("finding") or "",
            issue=event.told("issue") or "",
            text=str(body["text"]),
            element=str(body["element"]),
            owner=str(body["owner"]),
            due=date.fromisoformat(str(body["due"])),
            state=str(body["state"]),
            measure=event.told("measure") or "",
            base=float(base) if isinstance(base, (int, float)) else None,
            wanted=event.told("wanted") or "down",
            note=event.told("note") or "",
            first=first[name],
            last=event.happened,
            by=event.actor,
        )
    return sorted(found.values(), key=lambda one: (not one.open, one.due, one.id))
