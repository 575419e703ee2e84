"""What the devices that fail have in common, beside those of the class that do not.

For each value of an attribute a 2 x 2 table in/out x failed/not, one-sided exact test (Fisher
1922, by the hypergeometric tail), over all values together the false discovery rate is held
(Benjamini and Hochberg 1995).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from math import comb

from kb.incidents.places import Device, Place

LEAST_DEVICES = 5
LEVEL = 0.05


@dataclass(frozen=True)
class Common:
    """One value that failing devices share: `failed` of `having`; p as tested, and adjusted."""

    attribute: str
    value: str
    failed: int
    having: int
    p: float
    adjusted: float


def common(
    equipment: str,
    failed: Collection[str],
    devices: Iterable[Device],
    places: Mapping[str, Place],
    attributes: Collection[str] = ("batch", "model", "zone", "route", "firmware"),
) -> list[Common]:
    """All values of one class that were tested, the least chance first.

    `failed`: assets with at least one fault. Deployed devices alone count; a value is tested
    with at least five devices, and where it is not the whole class's.
    """
    deployed = [
        one for one in devices if one.equipment == equipment and one.place and not one.spare
    ]
    groups: defaultdict[tuple[str, str], set[str]] = defaultdict(set)
    for device in deployed:
        for attribute in attributes:
            if value := _value(device, attribute, places):
                groups[attribute, value].add(device.asset)
    bad = {one.asset for one in deployed} & set(failed)
    tested = [
        (attribute, value, len(assets & bad), len(assets))
        for (attribute, value), assets in groups.items()
        if LEAST_DEVICES <= len(assets) < len(deployed)
    ]
    chances = [greater(hit, having, len(bad), len(deployed)) for _, _, hit, having in tested]
    found = [
        Common(*one, p, q) for one, p, q in zip(tested, chances, adjusted(chances), strict=True)
    ]
    return sorted(found, key=lambda one: (one.adjusted, one.p, one.attribute, one.value))


def greater(hit: int, having: int, bad: int, whole: int) -> float:
    """P(X >= hit) where `having` of `whole` devices are drawn and `bad` of all have failed."""
    most = min(having, bad)
    ways = sum(comb(bad, x) * comb(whole - bad, having - x) for x in range(hit, most + 1))
    return ways / comb(whole, having)


def adjusted(chances: Collection[float]) -> list[float]:
    """The p-values of Benjamini and Hochberg, in the order given."""
    order = sorted(enumerate(chances), key=lambda one: one[1])
    result, least = [1.0] * len(order), 1.0
    for rank in range(len(order), 0, -1):
        place, chance = order[rank - 1]
        least = min(least, chance * len(order) / rank)
        result[place] = least
    return result


def _value(device: Device, attribute: str, places: Mapping[str, Place]) -> str:
    if attribute == "zone":
        place = places.get(device.place or "")
        return place.zone if place else ""
    return str(getattr(device, attribute))
