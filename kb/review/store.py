"""Reads what a review of an election looks at."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from weakref import WeakKeyDictionary

from kb.incidents.events import Event
from kb.incidents.fold import fold
from kb.incidents.incident import Incident
from kb.incidents.openings import Opened, openings
from kb.incidents.order import Entry, settle
from kb.incidents.places import Election, Place
from kb.incidents.rows import Row
from kb.incidents.store import Record
from kb.review.alarms import Baseline, baseline
from kb.review.rows import (
    DAY_WINDOW,
    UNKNOWN,
    Call,
    Case,
    Material,
    Turnout,
    case_of,
)


def read(record: Record, election: Election) -> Material:
    """The cases, places, devices, turnout and calls of an election, with what was opened."""
    names = record.file_names(election.id)
    bare = Material(election, (), {}, (), {})
    places = {place.id: place for place in record.places_as_of(bare.cut_off)}
    return Material(
        election,
        _cases(record, election, places, names),
        places,
        tuple(record.devices_as_of(bare.cut_off)),
        _turnout(record, election),
        _calls(record, election, names),
        _openings(record, election, names),
        _ends(record, election, names),
    )


def earlier(record: Record, election: Election) -> list[Material]:
    """What a review reads of the elections before this one: their cases and turnout.

    Places and devices are those of each at its own cut-off; cases bear the record's own ids.
    """
    found = []
    for one in record.elections():
        if one.date < election.date:
            bare = Material(one, (), {}, (), {})
            places = {place.id: place for place in record.places_as_of(bare.cut_off)}
            cases = _cases(record, one, places, {})
            devices = tuple(record.devices_as_of(bare.cut_off))
            found.append(Material(one, cases, places, devices, _turnout(record, one)))
    return found


def _cases(
    record: Record, election: Election, places: Mapping[str, Place], names: Mapping[str, str]
) -> tuple[Case, ...]:
    """The cases of an election in the review's terms; county-wide ones are no case of a place."""
    zones = {place.id: place.zone or UNKNOWN for place in places.values()}
    found = []
    for row in record.case_columns(election.id):
        (id_, place, asset, equipment, symptom, phase, effect, flags, outcome, *times, article) = (
            row
        )
        found.append(
            Case(
                names.get(id_ or "", id_ or ""),
                place,
                zones.get(place or ""),
                asset,
                equipment or UNKNOWN,
                symptom or UNKNOWN,
                phase or UNKNOWN,
                effect or UNKNOWN,
                flags or "",
                outcome,
                article,
                *map(_instant, times),
            )
        )
    return tuple(found)


def _turnout(record: Record, election: Election) -> dict[str, Turnout]:
    return {
        str(place): Turnout(ballots, sheets, checkins, _instant(opened))  # type: ignore[arg-type]
        for place, ballots, sheets, checkins, opened in record.turnout(election.id)
    }


def _instant(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)


def _calls(record: Record, election: Election, names: Mapping[str, str]) -> tuple[Call, ...]:
    """The telephone list where there is one; else the calls that the pages were told of."""
    listed = [
        Call(
            str(call), place, datetime.fromisoformat(str(started)), _instant(answered),
            _instant(ended), incident,
        )
        for call, place, started, answered, ended, incident in record.listed_calls(election.id)
    ]  # fmt: skip
    return tuple(listed) if listed else _told_calls(record, election, names)


def _told_calls(record: Record, election: Election, names: Mapping[str, str]) -> tuple[Call, ...]:
    stages: defaultdict[str, dict[str, Event]] = defaultdict(dict)
    for kind in ("call.offered", "call.answered", "call.ended"):
        for event in record.told(kind, election.id):
            name = event.told("call") or event.incident or event.id
            stages[name].setdefault(kind, event)
    found = []
    for name, told in stages.items():
        first = told.get("call.offered") or told.get("call.answered")
        if first is None:
            continue
        answered, ended = told.get("call.answered"), told.get("call.ended")
        case = next((one.incident for one in told.values() if one.incident), None)
        place = next((place for one in told.values() if (place := one.told("place"))), None)
        found.append(
            Call(
                name,
                place,
                first.happened,
                answered.happened if answered else None,
                ended.happened if ended else None,
                names.get(case or "", case),
            )
        )
    return tuple(found)


def _openings(
    record: Record, election: Election, names: Mapping[str, str]
) -> dict[str, tuple[Opened, ...]]:
    found = {}
    for incident in record.incidents_with(election.id, "compartment.opened"):
        opened = openings(_entries(record, incident))
        if opened:
            found[names.get(incident, incident)] = opened
    return found


def _ends(record: Record, election: Election, names: Mapping[str, str]) -> dict[str, str]:
    """The tree and step that were answered last in each case."""
    last = record.told("tree.answered", election.id)
    ordered = sorted(last, key=lambda event: event.happened)
    return {
        names.get(
            str(event.incident), str(event.incident)
        ): f"{event.told('tree')}/{event.told('step')}"
        for event in ordered
    }


def _entries(record: Record, incident: str) -> Sequence[Entry]:
    return settle(record.events(incident=incident))


def cases_of(rows: Iterable[Row], places: Mapping[str, Place]) -> list[Case]:
    """Rows in the review's terms, as they stand now; county-wide cases are no case of a place."""
    return [case_of(row, places) for row in rows if not row.county_wide]


def before(record: Record, election: Election) -> Baseline:
    """How often each kind of fault was reported in the elections before this one.

    Worked out anew only when the record of one of them has grown: it is asked for all day.
    """
    past = [one for one in record.elections() if one.date < election.date]
    state = tuple((one.id, record.log_size(one.id)) for one in past)
    kept = _baselines.get(record)
    if kept is None or kept[0] != (election.id, state):
        told = [(one.date, _cases(record, one, {}, {})) for one in past]
        window = (election.day_from or DAY_WINDOW[0], election.day_until or DAY_WINDOW[1])
        kept = ((election.id, state), baseline(told, election.time_zone, window))
        _baselines[record] = kept
    return kept[1]


_baselines: WeakKeyDictionary[Record, tuple[object, Baseline]] = WeakKeyDictionary()


def cases(record: Record) -> list[Incident]:
    """Every case of every election, with its whole story."""
    told: defaultdict[str, list[Event]] = defaultdict(list)
    for election in record.elections():
        for event in record.events(election=election.id):
            if event.incident is not None:
                told[event.incident].append(event)
    return [fold(events) for events in told.values()]
