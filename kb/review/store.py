"""Reads what a review of an election looks at."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from kb.incidents.events import Event
from kb.incidents.fold import fold
from kb.incidents.incident import Incident
from kb.incidents.places import Election
from kb.incidents.store import Record
from kb.review.rows import Material, material
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
