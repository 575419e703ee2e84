"""What the fold makes of custody: seals, compartments, counters, witnesses, ballots, swaps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from kb.incidents.incident import (
    Counter,
    Incident,
    Move,
    Opening,
    Seal,
    Swap,
    Tally,
    Witness,
)
from kb.incidents.order import Entry

# Fields of the incident that an event changes. Values come from bodies that the intake has
# checked against their kind.
Changes = dict[str, Any]
Handler = Callable[[Incident, Entry], Changes]


def _seal(entry: Entry) -> Seal:
    where, state = entry.text("where"), entry.text("state")
    return Seal(entry.text("seal"), where, state, entry.at, entry.actor)


def _seal_removed(incident: Incident, entry: Entry) -> Changes:
    return {"seals_off": (*incident.seals_off, _seal(entry))}


def _seal_applied(incident: Incident, entry: Entry) -> Changes:
    return {"seals_on": (*incident.seals_on, _seal(entry))}


def _compartment_opened(incident: Incident, entry: Entry) -> Changes:
    opening = Opening(entry.text("compartment"), entry.at, None)
    return {"compartments": (*incident.compartments, opening)}


def _compartment_closed(incident: Incident, entry: Entry) -> Changes:
    name, openings = entry.text("compartment"), list(incident.compartments)
    for place in reversed(range(len(openings))):
        if openings[place].compartment == name and openings[place].closed is None:
            openings[place] = replace(openings[place], closed=entry.at)
            return {"compartments": tuple(openings)}
    return {"compartments": (*openings, Opening(name, None, entry.at))}


def _counter_read(incident: Incident, entry: Entry) -> Changes:
    told = entry.given("public", "protective")
    reading = Counter(
        entry.text("asset"),
        told.get("public"),
        told.get("protective"),
        entry.text("moment"),
        entry.at,
        entry.actor,
    )
    return {"counters": (*incident.counters, reading)}


def _witness_named(incident: Incident, entry: Entry) -> Changes:
    told = entry.given("person", "confirmed_by", "party_rule_met")
    witness = Witness(
        entry.text("name"),
        entry.text("role"),
        told.get("person"),
        told.get("confirmed_by"),
        told.get("party_rule_met"),
        entry.at,
    )
    return {"witnesses": (*incident.witnesses, witness)}


def _ballots_moved(incident: Incident, entry: Entry) -> Changes:
    told = entry.given("count")
    source, to = entry.text("from"), entry.text("to")
    move = Move(source, to, told.get("count"), entry.text("container"), entry.at)
    return {"ballots": (*incident.ballots, move)}


def _ballots_tallied(incident: Incident, entry: Entry) -> Changes:
    told = entry.given("stored", "accepted", "returned")
    tally = Tally(told.get("stored"), told.get("accepted"), told.get("returned"), entry.at)
    return {"tallies": (*incident.tallies, tally)}


def _device_swapped(incident: Incident, entry: Entry) -> Changes:
    told = entry.given("old", "new")
    swap = Swap(told.get("old"), told.get("new"), entry.text("memory"), entry.at)
    return {"swaps": (*incident.swaps, swap)}


HANDLERS: dict[str, Handler] = {
    "seal.removed": _seal_removed,
    "seal.applied": _seal_applied,
    "compartment.opened": _compartment_opened,
    "compartment.closed": _compartment_closed,
    "counter.read": _counter_read,
    "witness.named": _witness_named,
    "ballots.moved": _ballots_moved,
    "ballots.tallied": _ballots_tallied,
    "device.swapped": _device_swapped,
}
