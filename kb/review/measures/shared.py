"""What the devices that fail have in common, beside those of the class that do not.

For each value of an attribute a 2 x 2 table in/out x failed/not, one-sided exact test (Fisher
1922, by the hypergeometric tail), over all values together the false discovery rate is held
(Benjamini and Hochberg 1995).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.special import gammaln

from kb.incidents.places import Device, Place
from kb.review.rows import Material

LEAST_DEVICES = 5
LEVEL = 0.05
# What the review holds against each other; the day also looks at route and firmware.
ATTRIBUTES = ("batch", "model", "zone")
# Rows of a greater adjusted p are not kept.
KEPT = 0.25


@dataclass(frozen=True)
class Common:
    """One value that failing devices share: `failed` of `having`; p as tested, and adjusted.

    `bad` of `whole` deployed devices of the class have failed.
    """

    attribute: str
    value: str
    failed: int
    having: int
    bad: int
    whole: int
    p: float
    adjusted: float = 1.0

    @property
    def name(self) -> str:
        """`attribute|value`."""
        return f"{self.attribute}|{self.value}"

    def table(self) -> dict[str, Any]:
        """The 2 x 2 table with its chances."""
        out = self.whole - self.having
        failed_out = self.bad - self.failed
        return {
            "failed_in": self.failed,
            "ok_in": self.having - self.failed,
            "failed_out": failed_out,
            "ok_out": out - failed_out,
            "p": self.p,
            "p_adjusted": self.adjusted,
        }


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
    return ordered(with_adjusted(_tested(equipment, failed, devices, places, attributes)))


def _tested(
    equipment: str,
    failed: Collection[str],
    devices: Iterable[Device],
    places: Mapping[str, Place],
    attributes: Collection[str],
) -> list[Common]:
    """The values of one class with the chance of each by itself; see `common`."""
    deployed = [
        one for one in devices if one.equipment == equipment and one.place and not one.spare
    ]
    groups: defaultdict[tuple[str, str], set[str]] = defaultdict(set)
    for device in deployed:
        for attribute in attributes:
            if value := _value(device, attribute, places):
                groups[attribute, value].add(device.asset)
    bad = {one.asset for one in deployed} & set(failed)
    whole = len(deployed)
    found = []
    for (attribute, value), assets in groups.items():
        having, hit = len(assets), len(assets & bad)
        if LEAST_DEVICES <= having < whole:
            p = greater(hit, having, len(bad), whole)
            found.append(Common(attribute, value, hit, having, len(bad), whole, p))
    return found


def with_adjusted(found: Collection[Common]) -> list[Common]:
    """The same with the p-values adjusted for all of them together."""
    return [
        replace(one, adjusted=p)
        for one, p in zip(found, adjusted([one.p for one in found]), strict=True)
    ]


def ordered(found: Iterable[Common]) -> list[Common]:
    """The least chance first."""
    return sorted(found, key=lambda one: (one.adjusted, one.p, one.attribute, one.value))


def enrichment(material: Material) -> dict[str, Any]:
    """Every class and value of an election, adjusted together; rows up to an adjusted p of .25."""
    failed = {case.asset for case in material.faults if case.asset}
    by_class: defaultdict[str, list[Device]] = defaultdict(list)
    for device in material.deployed:
        by_class[device.equipment].append(device)
    names: list[str] = []
    every: list[Common] = []
    for equipment, devices in sorted(by_class.items()):
        found = _tested(equipment, failed, devices, material.places, ATTRIBUTES)
        names += [f"{equipment}|{one.name}" for one in found]
        every += found
    rows = dict(zip(names, with_adjusted(every), strict=True))
    return {
        "tests": len(rows),
        "flagged": sorted(name for name, one in rows.items() if one.adjusted <= LEVEL),
        "rows": {name: one.table() for name, one in sorted(rows.items()) if one.adjusted <= KEPT},
    }


def of_kind(material: Material, equipment: str, symptom: str) -> dict[str, Any]:
    """What the devices of one class with one symptom share, adjusted over that class's tests."""
    failed = {
        case.asset
        for case in material.faults
        if case.asset and case.equipment == equipment and case.symptom == symptom
    }
    found = common(equipment, failed, material.deployed, material.places, ATTRIBUTES)
    return {one.name: one.table() for one in found if one.adjusted <= KEPT}


def greater(hit: int, having: int, bad: int, whole: int) -> float:
    """P(X >= hit) where `having` of `whole` devices are drawn and `bad` of all have failed.

    By logarithms of factorials, good to some eleven digits for classes of thousands.
    """
    least, most = max(hit, having + bad - whole, 0), min(having, bad)
    if least <= max(having + bad - whole, 0):
        return 1.0
    x = np.arange(least, most + 1)
    chosen = _log_choose(bad, x) + _log_choose(whole - bad, having - x)
    return min(1.0, float(np.exp(chosen - _log_choose(whole, np.array(having))).sum()))


def _log_choose(of: int, some: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    return np.asarray(gammaln(of + 1) - gammaln(some + 1) - gammaln(of - some + 1))


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
