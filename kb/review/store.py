"""Reads what a review of an election looks at."""

from __future__ import annotations

import gc
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from weakref import WeakKeyDictionary

from kb.incidents.actions import STATED, Action, actions
from kb.incidents.events import Event
from kb.incidents.fold import fold
from kb.incidents.incident import Incident
from kb.incidents.openings import Opened, openings
from kb.incidents.order import settle
from kb.incidents.places import Election, Place
from kb.incidents.rows import Row
from kb.incidents.store import Record
from kb.review.day.alarms import Baseline, baseline
from kb.review.rows import (
    UNKNOWN,
    Call,
    Case,
    Material,
    Turnout,
    bare,
    case_of,
)
from kb.review.sections import Review, review


@contextmanager
def uncollected() -> Iterator[None]:
    """For the time of a review, never look for rings among its many rows: it takes a fifth."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def reviewed(record: Record, election: Election, now: datetime) -> Review:
    """The review of an election against the last one; up to now while its day is not over."""
    with uncollected():
        material = read(record, election)
        so_far = material.cut_off > now
        if so_far:
            material = material.until(now)
        return review(material, earlier(record, election), so_far=so_far)


def read(record: Record, election: Election) -> Material:
    """The cases, places, devices, turnout and calls of an election, with what was opened."""
    names = record.file_names(election.id)
    cut_off = bare(election).cut_off
    places = {place.id: place for place in record.places_as_of(cut_off)}
    return Material(
        election,
        _cases(record, election, places, names),
        places,
        tuple(record.devices_as_of(cut_off)),
        _turnout(record, election),
        _calls(record, election, names),
        _openings(record, election, names),
        _ends(record, election, names),
    )


def earlier(record: Record, election: Election, against: Collection[str] = ()) -> list[Material]:
    """What a review reads of the elections before this one, the oldest first: their cases.

    The turnout of the last one comes along, and of those that are compared `against`. Places and
    devices are those of each at its own cut-off; cases bear the record's own ids.
    """
    past = [one for one in record.elections() if one.date < election.date]
    return [_before(record, one, voters=one is past[-1] or one.id in against) for one in past]


def _before(record: Record, election: Election, *, voters: bool) -> Material:
    cut_off = bare(election).cut_off
    places = {place.id: place for place in record.places_as_of(cut_off)}
    devices = tuple(record.devices_as_of(cut_off))
    turnout = _turnout(record, election) if voters else {}
    return Material(election, _cases(record, election, places), places, devices, turnout)


def _cases(
    record: Record,
    election: Election,
    places: Mapping[str, Place],
    names: Mapping[str, str] | None = None,
) -> tuple[Case, ...]:
    """The cases of an election in the review's terms; county-wide ones are no case of a place.

    Without the `names` of files, what only the election under review needs stays out.
    """
    zones: dict[str | None, str] = {one.id: one.zone or UNKNOWN for one in places.values()}
    known = names or {}
    return tuple(
        Case(
            known.get(str(id_), str(id_)),
            place,
            zones.get(place),
            asset,
            equipment or UNKNOWN,
            symptom or UNKNOWN,
            rest[0] or UNKNOWN if rest else UNKNOWN,
            effect or UNKNOWN,
            rest[1] or "" if rest else "",
            outcome,
            rest[2] if rest else None,
            _instant(started),
            _instant(reported),
            _instant(rest[3]) if rest else None,
            _instant(rest[4]) if rest else None,
            _instant(restored),
        )
        for (
            id_, place, asset, equipment, symptom, effect, outcome, started, reported, restored,
            *rest,
        ) in record.case_columns(election.id, whole=names is not None)
    )  # fmt: skip


def _turnout(record: Record, election: Election) -> dict[str, Turnout]:
    return {
        str(place): Turnout(ballots, sheets, checkins, _instant(opened))  # type: ignore[arg-type]
        for place, ballots, sheets, checkins, opened in record.turnout(election)
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
        opened = openings(settle(record.events(incident=incident)))
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


def actions_of(record: Record, elections: Iterable[Election]) -> list[Action]:
    """Every corrective action of these elections as it stands."""
    return actions(event for one in elections for event in record.standing(STATED, one.id))


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
        told = [(one.date, _cases(record, one, {})) for one in past]
        window = bare(election).window_clock
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
