"""Voting time lost: of places that had stopped, of devices, and of accessible voting.

Outages are clipped to the place's scheduled voting hours, and what overlaps counts once.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from functools import reduce
from typing import Any

from kb.review.measures.spans import Span, common, length, minutes, outage, union
from kb.review.rows import Case, Material

STOPPED = "stopped"
MARKING = "bmd"
ACCESS = "access"
# What takes accessible voting away altogether, where it befalls the class or all its devices.
_GRAVE = frozenset({STOPPED, "device"})


def time_lost(material: Material) -> dict[str, Any]:
    """Minutes by place, by class of device, and of accessible voting by place."""
    by_place, by_asset = _outages(material)
    places = {
        place: length(span for case, span in found if case.effect == STOPPED)
        for place, found in sorted(by_place.items())
    }
    places = {place: lost for place, lost in places.items() if lost > 0}
    whole = sum(minutes(*material.voting_hours(place)) for place in material.places)
    total = sum(places.values())
    return {
        "places": places,
        "places_total_minutes": total,
        "voting_minutes_all_places": whole,
        "share_of_place_time": total / whole if whole else None,
        "devices": _devices(material, by_asset),
        "accessible": _accessible(material, by_place, by_asset),
    }


def _outages(
    material: Material,
) -> tuple[dict[str, list[tuple[Case, Span]]], dict[str, list[Span]]]:
    """The outages of each place's faults with their cases, and of each asset's."""
    homes = {device.asset: device.place for device in material.deployed}
    by_place: defaultdict[str, list[tuple[Case, Span]]] = defaultdict(list)
    by_asset: defaultdict[str, list[Span]] = defaultdict(list)
    for case in material.faults:
        place = case.place or homes.get(case.asset or "")
        if place is None or place not in material.places:
            continue
        span = outage(case, material.cut_off, material.voting_hours(place))
        if span is None:
            continue
        if case.place:
            by_place[case.place].append((case, span))
        if case.asset:
            by_asset[case.asset].append(span)
    return by_place, by_asset


def _devices(material: Material, by_asset: dict[str, list[Span]]) -> dict[str, Any]:
    hours: Counter[str] = Counter()
    lost: Counter[str] = Counter()
    of_place = {place: minutes(*material.voting_hours(place)) / 60 for place in material.places}
    for device in material.deployed:
        hours[device.equipment] += of_place.get(str(device.place), 0)  # type: ignore[assignment]
        lost[device.equipment] += length(by_asset.get(device.asset, ()))  # type: ignore[assignment]
    return {
        name: {
            "device_hours": hours[name],
            "minutes_lost": lost[name],
            "share": lost[name] / (60 * hours[name]) if hours[name] else None,
        }
        for name in sorted(hours)
    }


def _accessible(
    material: Material,
    by_place: dict[str, list[tuple[Case, Span]]],
    by_asset: dict[str, list[Span]],
) -> dict[str, float]:
    """Minutes in which a voter could not vote alone and in private, by place.

    A fault says so by its flag `access` or its class; or all marking devices of the place were
    out of order at once. That is the least it can have been: nobody may have asked.
    """
    marking: defaultdict[str, list[str]] = defaultdict(list)
    for device in material.deployed:
        if device.equipment == MARKING:
            marking[str(device.place)].append(device.asset)
    found = {}
    for place, faults in sorted(by_place.items()):
        spans = [span for case, span in faults if _takes_access(case)]
        spans += _all_out([by_asset.get(asset, []) for asset in marking[place]])
        # A fault of the class without a device named is of the only one there is.
        if len(marking[place]) == 1:
            spans += [
                span
                for case, span in faults
                if case.equipment == MARKING and not case.asset and case.effect in _GRAVE
            ]
        if spans:
            found[place] = length(spans)
    return found


def access_cases(material: Material, places: Collection[str]) -> list[str]:
    """The faults behind accessible voting that was not available at these places."""
    return [
        case.id
        for case in material.faults
        if case.place in places
        and (_takes_access(case) or (case.equipment == MARKING and case.effect in _GRAVE))
    ]


def _takes_access(case: Case) -> bool:
    flagged = ACCESS in case.flags.split() and case.effect in _GRAVE
    return flagged or (case.equipment == "accessibility" and case.effect in _GRAVE)


def _all_out(devices: Sequence[list[Span]]) -> list[Span]:
    return reduce(common, map(union, devices)) if devices else []
