"""Public counters of one device between which so few ballots lie that they could be a person's.

A reading under ten is a few voters, and so is the difference of two readings: who was there
between them is easily known. Then no public counter of the device is told, neither in a case nor
in the county's row of the device.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from kb.exchange.record.public import PUBLIC_COUNTERS, SMALLEST_CELL
from kb.incidents.events import Event

_ASSETS = ("asset", "old", "new")


def close(events: Iterable[Event]) -> frozenset[str]:
    """The ids of the events whose public counters are withheld. `events`: those of all logs."""
    every = list(events)
    named = _named(every)
    told = [(event, number) for event in every if (number := _number(event)) is not None]
    readings: dict[str, list[int]] = {}
    for event, number in told:
        for device in _devices(event, named):
            readings.setdefault(device, []).append(number)
    small = {device for device, numbers in readings.items() if _is_small(numbers)}
    return frozenset(event.id for event, _ in told if not small.isdisjoint(_devices(event, named)))


def _number(event: Event) -> int | None:
    found = (event.body.get(name) for name in PUBLIC_COUNTERS)
    return next((number for number in found if isinstance(number, int)), None)


def _named(events: Iterable[Event]) -> dict[str, set[str]]:
    """The devices that the entries of each case name."""
    named: dict[str, set[str]] = {}
    for event in events:
        if event.incident is not None:
            devices = {str(event.body[name]) for name in _ASSETS if name in event.body}
            named.setdefault(event.incident, set()).update(devices)
    return named


def _devices(event: Event, named: Mapping[str, set[str]]) -> set[str]:
    """The device that was read; where it is not told, each of the case, and the case itself."""
    if "asset" in event.body:
        return {str(event.body["asset"])}
    case = str(event.incident)
    return named.get(case, set()) | {f"case {case}"}


def _is_small(numbers: Sequence[int]) -> bool:
    """Whether a reading, or what lies between two of them, is a small count; none is no one's."""
    between = [after - before for before, after in pairwise(sorted(numbers))]
    return any(0 < number < SMALLEST_CELL for number in [*numbers, *between])
