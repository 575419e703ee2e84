"""Events in the order in which they count, with corrections and withholdings carried out.

The order of arrival plays no part: two phones that send the same events in another order, or
twice, give the same result. Nothing is lost either: what an entry said before it was
corrected stays with it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from kb.base.clock import parse_instant
from kb.incidents import corrections
from kb.incidents.bodies import named_members
from kb.incidents.events import Event
from kb.incidents.kinds import CORRECTED, IMPORTED, WITHHELD, check_body

SKEW_MARK = timedelta(minutes=2)
REDACTED = "[redacted]"


@dataclass(frozen=True)
class Version:
    """What an entry said until it was corrected, and by whom, when and why it was."""

    body: Mapping[str, object]
    happened: datetime
    corrected_by: str
    corrected_at: datetime
    reason: str


@dataclass(frozen=True)
class Entry:
    """An event as it counts now.

    `at` is when it happened, corrected for the skew of the reporter's clock; `versions` what
    it said before, oldest first; `withheld` the names of hidden members.
    """

    event: Event
    at: datetime
    versions: tuple[Version, ...] = ()
    struck: bool = False
    withheld: frozenset[str] = frozenset()
    late: bool = False

    @property
    def id(self) -> str:
        """The event's id."""
        return self.event.id

    @property
    def kind(self) -> str:
        """The event's kind."""
        return self.event.kind

    @property
    def actor(self) -> str:
        """Who entered it."""
        return self.event.actor

    @property
    def body(self) -> Mapping[str, object]:
        """What it says now."""
        return self.event.body

    def given(self, *names: str) -> dict[str, Any]:
        """Those of these members of the body that were told."""
        return {name: self.body[name] for name in names if name in self.body}

    def text(self, name: str) -> str:
        """A member of the body as text; empty where it was not told."""
        return str(self.body.get(name, ""))

    @property
    def skewed(self) -> bool:
        """Whether the reporter's clock was off by more than two minutes."""
        return abs(skew(self.event)) > SKEW_MARK


def skew(event: Event) -> timedelta:
    """By how much the reporter's clock was behind (an estimate: the way took time as well)."""
    return timedelta(0) if event.imported else event.received - event.sent


def settle(events: Iterable[Event]) -> tuple[Entry, ...]:
    """The entries of one incident (or one place) in order; any order of `events` will do."""
    events_by_id = _distinct(events)
    entries = {
        name: Entry(event, event.happened + skew(event)) for name, event in events_by_id.items()
    }
    refused = corrections.refused(events_by_id.values())
    ordered = sorted(entries.values(), key=_when)
    for entry in ordered:
        if entry.kind == CORRECTED and _counts(events_by_id, refused, entry):
            _correct(entries, entry)
    for entry in ordered:
        if entry.kind == WITHHELD:
            _withhold(entries, entries[entry.id])
    closings = _closings(entries.values())
    late = {name: _is_late(entry.event, closings) for name, entry in entries.items()}
    settled = (replace(entry, late=late[entry.id]) for entry in entries.values())
    return tuple(sorted(settled, key=_when))


def root(events: Mapping[str, Event] | Mapping[str, Entry], name: str) -> str | None:
    """The event that a correction means: one that names a correction means what that one means.

    None where the event is not there, or corrections name one another in a ring.
    """
    return next(reversed(chain(events, name)), None)


def chain(events: Mapping[str, Event] | Mapping[str, Entry], name: str) -> tuple[str, ...]:
    """This event, what it means where it is a correction, and so on down to the root.

    Empty where there is no root.
    """
    seen: dict[str, None] = {}
    while name in events and name not in seen:
        seen[name] = None
        if events[name].kind != CORRECTED:
            return tuple(seen)
        name = str(events[name].body.get("event"))
    return ()


def _distinct(events: Iterable[Event]) -> dict[str, Event]:
    """One event an id; of retries the first that was received."""
    distinct: dict[str, Event] = {}
    for event in sorted(events, key=lambda one: (one.received, one.sent, one.to_json())):
        distinct.setdefault(event.id, event)
    return distinct


def _when(entry: Entry) -> tuple[datetime, str]:
    return entry.at, entry.id


def _counts(events: Mapping[str, Event], refused: Collection[str], correction: Entry) -> bool:
    """Whether a correction is carried out: what takes two persons counts only with both."""
    meant = [events[name] for name in chain(events, str(correction.body.get("event")))]
    return bool(meant) and corrections.holds(correction.event, meant, events, refused)


def _correct(entries: dict[str, Entry], correction: Entry) -> None:
    """Carry out one correction; one that does not fit stays in the story without effect."""
    name = root(entries, str(correction.body.get("event")))
    if name is None:
        return
    entry, replacement = entries[name], correction.body.get("replacement")
    body: Mapping[str, object] = entry.body
    if isinstance(replacement, dict):
        body, problems = check_body(entry.kind, replacement, name)
        if problems:
            return
    when = correction.body.get("happened")
    happened = parse_instant(str(when)) if when else entry.event.happened
    told = entry.event
    version = Version(
        told.body,
        told.happened,
        correction.actor,
        correction.at,
        str(correction.body.get("reason", "")),
    )
    entries[name] = replace(
        entry,
        event=replace(told, body=body, happened=happened),
        # The corrected time was looked up afterwards: it carries no skew of the first phone.
        at=happened if when else entry.at,
        versions=(*entry.versions, version),
        struck=replacement is None and when is None,
    )


def _withhold(entries: dict[str, Entry], withholding: Entry) -> None:
    """Hide text of an entry in all its versions, and in the corrections that repeat it."""
    target = root(entries, str(withholding.body.get("event")))
    if target is None or withholding.struck:
        return
    members = named_members(withholding.body)
    for name, entry in entries.items():
        if name == target or (entry.kind == CORRECTED and root(entries, name) == target):
            entries[name] = _redacted(entry, members)


def _redacted(entry: Entry, members: frozenset[str]) -> Entry:
    event = replace(entry.event, body=_without(entry.body, members))
    versions = tuple(
        replace(
            version,
            body=_without(version.body, members),
            reason=REDACTED if "reason" in members and version.reason else version.reason,
        )
        for version in entry.versions
    )
    hidden = members & entry.body.keys()
    return replace(entry, event=event, versions=versions, withheld=entry.withheld | hidden)


def _without(body: Mapping[str, object], members: frozenset[str]) -> dict[str, object]:
    hidden = {name: REDACTED if name in members else value for name, value in body.items()}
    inner = hidden.get("replacement")
    return hidden | ({"replacement": _without(inner, members)} if isinstance(inner, dict) else {})


def _closings(entries: Iterable[Entry]) -> list[tuple[datetime, bool]]:
    """When the server learned that the incident was closed (True) or opened again (False)."""
    turns: set[tuple[datetime, bool]] = set()
    for entry in entries:
        body = entry.body
        closes = (
            entry.kind == "incident.closed"
            or (entry.kind == "incident.merged" and bool(body.get("into")))
            or (entry.kind == IMPORTED and bool(body.get("outcome")))
        )
        if not entry.struck and (closes or entry.kind == "incident.reopened"):
            turns.add((entry.event.received, closes))
    return sorted(turns)


def _is_late(event: Event, closings: list[tuple[datetime, bool]]) -> bool:
    """Whether it came in after the incident was closed. Imports come when they come."""
    if event.imported or event.kind == "incident.reopened":
        return False
    before = [closed for received, closed in closings if received < event.received]
    return bool(before) and before[-1]
