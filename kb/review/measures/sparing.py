"""Spares: how many devices had to be replaced, and how many spares would have been enough.

With N deployed and a chance p each, the smallest number s with P(Bin(N, p) > s) <= 5 % (1 %).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import Any

from scipy.special import bdtrc

from kb.review.rows import Material

# How a case ends when the device itself was out for the day.
REPLACED = frozenset({"device-swapped", "contingency-to-close", "stopped-and-secured"})


def enough(devices: int, p: float, risk: float) -> int:
    """The smallest number of spares that runs out with at most this risk."""
    spares = 0
    while spares < devices and float(bdtrc(spares, devices, p)) > risk:
        spares += 1
    return spares


def sparing(material: Material) -> dict[str, Any]:
    """Every deployed class."""
    classes = {device.asset: device.equipment for device in material.devices}
    gone: defaultdict[str, set[str]] = defaultdict(set)
    for case in material.faults:
        if case.outcome in REPLACED and case.asset in classes:
            gone[classes[case.asset]].add(case.asset)
    have = Counter(one.equipment for one in material.devices if one.spare and not one.place)
    return {
        name: _line(devices, len(gone[name]), have[name])
        for name, devices in sorted(material.deployed_count.items())
    }


def _line(devices: int, needed: int, have: int) -> dict[str, Any]:
    p = min(1.0, needed / devices)
    return {
        "devices": devices,
        "needed": needed,
        "p": p,
        "have": have,
        "spares_95": enough(devices, p, 0.05),
        "spares_99": enough(devices, p, 0.01),
        "short": needed > have,
    }
