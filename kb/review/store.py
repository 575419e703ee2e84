"""Reads what a review of an election looks at."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from weakref import WeakKeyDictionary

from kb.incidents.events import Event
from kb.incidents.fold import fold
from kb.incidents.incident import Incident
from kb.incidents.places import Election, Place
from kb.incidents.rows import Row
from kb.incidents.store import Record
from kb.review.alarms import DAY_WINDOW, Baseline, baseline
from kb.review.rows import Case, Material, case_of, material
from kb.review.summary import Rates, Summary, rates, summarise


def read(record: Record, election: Election) -> Material:
    """The cases, places, devices and ballots of an election, as they stand now."""
    return material(
        election,
        record.incidents(election.id),
        record.places(),
        record.devices(),
        record.exposures(election.id),
    )


def cases_of(rows: Iterable[Row], places: Mapping[str, Place]) -> list[Case]:
    """Rows in the review's terms, as they stand now; county-wide cases are no case of a place."""
    return [case_of(row, places) for row in rows if not row.county_wide]


def before(record: Record, election: Election) -> Baseline:
    """How often each kind of fault was reported in the elections before this one.

    Worked out anew only when the record of one of them has grown: it is asked for all day.
    """
    earlier = [one for one in record.elections() if one.date < election.date]
    state = tuple((one.id, record.log_size(one.id)) for one in earlier)
    kept = _baselines.get(record)
    if kept is None or kept[0] != (election.id, state):
        places = {place.id: place for place in record.places()}
        told = [(one.date, cases_of(record.incidents(one.id), places)) for one in earlier]
        window = (election.day_from or DAY_WINDOW[0], election.day_until or DAY_WINDOW[1])
        kept = ((election.id, state), baseline(told, election.time_zone, window))
        _baselines[record] = kept
    return kept[1]


_baselines: WeakKeyDictionary[Record, tuple[object, Baseline]] = WeakKeyDictionary()


def summary(record: Record, election: Election) -> Summary:
    """The first summary of an election.

    While its ballots are not known, the rates are those of the last election before it whose
    ballots are; they say which election they are of.
    """
    found = summarise(read(record, election))
    return found if found.rates else replace(found, rates=_rates_before(record, election))


def _rates_before(record: Record, election: Election) -> Rates | None:
    earlier = [one for one in record.elections() if one.date < election.date]
    for one in reversed(earlier):
        found = rates(read(record, one))
        if found:
            return found
    return None


def cases(record: Record) -> list[Incident]:
    """Every case of every election, with its whole story."""
    told: defaultdict[str, list[Event]] = defaultdict(list)
    for election in record.elections():
        for event in record.events(election=election.id):
            if event.incident is not None:
                told[event.incident].append(event)
    return [fold(events) for events in told.values()]
