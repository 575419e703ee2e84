"""The tables that screens read: written with the ledger, and made anew from it alone.

Live writing and `rebuild` go through the same functions, event by event in the order of each
log; whatever they make depends on nothing else.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable

from sqlite_utils import Database

from kb.base.clock import parse_instant
from kb.incidents.corrections import ASKED, REFUSED
from kb.incidents.events import Event
from kb.incidents.finding import digits, haystack
from kb.incidents.fold import fold
from kb.incidents.kinds import CORRECTED, MARKS
from kb.incidents.order import Entry, settle
from kb.incidents.rows import columns_of, stamp
from kb.incidents.store import ledger
from kb.incidents.store.schema import PROJECTION


def project_incidents(database: Database, events: Iterable[Event]) -> None:
    """Fold anew the incidents that these events, just appended, belong to; in ledger order."""
    touched = dict.fromkeys(event.incident for event in events if event.incident is not None)
    for incident in touched:
        _write_incident(database, ledger.of_incident(database, incident))


def project_row(database: Database, event: Event) -> None:
    """Bring the rows up to date with one event that belongs to no incident, just appended.

    At once, not at the end of a batch: what follows in it asks whether the election is known.
    """
    if event.kind in MARKS:
        corrections = ledger.loose_corrections(database, event.election or "")
        _write_mark(database, event, corrections)
    elif event.kind in {CORRECTED, ASKED, REFUSED}:
        target = _meant(database, event)
        if target is not None and target.kind in MARKS and target.incident is None:
            corrections = ledger.loose_corrections(database, event.election or "")
            _write_mark(database, target, corrections)
    elif event.kind in _ROWS:
        _ROWS[event.kind](database, event)


def _meant(database: Database, event: Event) -> Event | None:
    """The entry whose correction this is, asks for or refuses: any of them may decide on it."""
    if event.kind != REFUSED:
        return ledger.corrected_event(database, event)
    asked = ledger.find(database, str(event.body["asked"]))
    # It may name what is no asking: then it means nothing.
    if asked is None or asked.event.kind != ASKED:
        return None
    return ledger.corrected_event(database, asked.event)


def rebuild(database: Database) -> int:
    """Drop the projection and make it again; returns the number of events read."""
    for table in PROJECTION:
        database.execute(f"DELETE FROM {table}")  # noqa: S608 - a constant
    incidents: dict[str, list[Event]] = {}
    count = 0
    for event in (recorded.event for recorded in ledger.whole(database)):
        count += 1
        if event.incident is None:
            project_row(database, event)
        else:
            incidents.setdefault(event.incident, []).append(event)
    for events in incidents.values():
        _write_incident(database, events)
    return count


def digest(database: Database) -> str:
    """SHA-256 over every row of the projection: two that agree are the same."""
    sum_ = hashlib.sha256()
    for table, key in PROJECTION.items():
        for row in database.execute(f"SELECT * FROM {table} ORDER BY {key}"):  # noqa: S608 - constants
            sum_.update(repr((table, tuple(row))).encode())
    return sum_.hexdigest()


def _put(database: Database, table: str, row: dict[str, str | int | None]) -> None:
    names = ", ".join(row)
    marks = ", ".join(f":{name}" for name in row)
    database.execute(f"INSERT OR REPLACE INTO {table} ({names}) VALUES ({marks})", row)  # noqa: S608 - names are constants


def _write_incident(database: Database, events: list[Event]) -> None:
    incident = fold(events)
    number = _number(database, incident.election, incident.id)
    _put(database, "incidents", columns_of(incident, number))


def _number(database: Database, election: str, incident: str) -> int:
    """The number it has, else the election's next: so numbers go in ledger order."""
    query = "SELECT number FROM incidents WHERE id = ?"
    found = database.execute(query, [incident]).fetchone()
    if found is None:
        query = "SELECT coalesce(max(number), 0) + 1 FROM incidents WHERE election = ?"
        found = database.execute(query, [election]).fetchone()
    return int(found[0])


def _write_mark(database: Database, event: Event, corrections: list[Event]) -> None:
    entries = settle([event, *corrections])
    entry = next(entry for entry in entries if entry.id == event.id)
    if entry.struck:
        database.execute("DELETE FROM marks WHERE event = ?", [event.id])
    else:
        _put(database, "marks", _mark(entry))


def _mark(entry: Entry) -> dict[str, str | int | None]:
    when = entry.body.get("time")
    return {
        "event": entry.id,
        "election": entry.event.election,
        "place": str(entry.body["place"]),
        "kind": entry.kind,
        "at": stamp(parse_instant(str(when)) if when else entry.at),
        "actor": entry.actor,
        "seals": json.dumps(entry.body.get("seals", [])),
    }


def _election(database: Database, event: Event) -> None:
    _put(database, "elections", {"id": event.told("election"), "row": _json(event)})


def _place(database: Database, event: Event) -> None:
    row: dict[str, str | int | None] = {
        "id": event.told("place"),
        "name": event.told("name"),
        "zone": event.told("zone"),
        "phone": digits(event.told("phone") or ""),
        "haystack": haystack(event.body),
        "row": _json(event),
    }
    _put(database, "places", row)


def _device(database: Database, event: Event) -> None:
    row = {name: event.told(name) for name in ("asset", "place", "equipment")}
    _put(database, "devices", {**row, "row": _json(event)})


def _exposure(database: Database, event: Event) -> None:
    row = {name: event.told(name) for name in ("place", "date")}
    _put(database, "exposures", {**row, "election": event.election, "row": _json(event)})


def _json(event: Event) -> str:
    return json.dumps(event.body, ensure_ascii=False, sort_keys=True)


_ROWS: dict[str, Callable[[Database, Event], None]] = {
    "election.recorded": _election,
    "place.recorded": _place,
    "device.recorded": _device,
    "exposure.recorded": _exposure,
}
