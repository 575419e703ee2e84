"""Rates of faults with exact Poisson limits, and when a rate is too uncertain to say.

A count of faults is taken as Poisson. The limits are those of Garwood, F. (1936), "Fiducial
limits for the Poisson distribution", Biometrika 28, 437-442, in their chi-square form:

    low = chi2(0.025; 2k) / 2 (0 when k = 0)        high = chi2(0.975; 2k + 2) / 2
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from kb.review.rows import Material

# Below this many faults a rate is shown only with the words "too few to say".
FEW = 5
PER_BALLOTS = 1000
PER_DEVICES = 100


@dataclass(frozen=True)
class Rate:
    """`count` events over `exposure` units: `value`, `low` and `high` per `per` units."""

    count: int
    exposure: float
    per: int
    value: float
    low: float
    high: float

    @property
    def too_few(self) -> bool:
        """Whether the count is too small to compare this rate with another."""
        return self.count < FEW


def garwood(count: int, exposure: float = 1.0, confidence: float = 0.95) -> tuple[float, float]:
    """Exact Poisson limits of count / exposure, both tails of equal size.

    Raises ValueError for a negative count, an exposure of zero or less, or a confidence
    outside (0, 1).
    """
    # Here and not at the top: it would add 0.2 s to the start of every command.
    from scipy.special import chdtri  # noqa: PLC0415

    if count < 0 or exposure <= 0 or not 0 < confidence < 1:
        raise ValueError(f"no limits for count {count}, exposure {exposure}, level {confidence}")
    tail = (1 - confidence) / 2
    # chdtri(v, p) is the value that a chi-square of v degrees exceeds with probability p.
    low = float(chdtri(2 * count, 1 - tail)) / 2 if count else 0.0
    high = float(chdtri(2 * count + 2, tail)) / 2
    return low / exposure, high / exposure


def rate(count: int, exposure: float, per: int) -> Rate | None:
    """The rate per `per` units with 95 % limits; None where the exposure is 0."""
    if exposure <= 0:
        return None
    low, high = garwood(count, exposure / per)
    return Rate(count, exposure, per, per * count / exposure, low, high)


def rates(material: Material) -> dict[str, Any]:
    """Faults per 1,000 ballots at usable places, and per 100 deployed devices.

    `exposure` is in 1,000 ballots. Faults at other places, or without place, are left out.
    """
    ballots = material.ballots
    faults = [case for case in material.faults if case.place in ballots]
    whole = sum(ballots.values())
    of_zone = Counter({material.zone_of(place): 0 for place in material.places})
    for place, number in ballots.items():
        of_zone[material.zone_of(place)] += number
    in_zone = Counter(str(case.zone) for case in faults)
    of_class = Counter(case.equipment for case in faults)
    devices = material.deployed_count
    classes = of_class.keys() | devices.keys()
    all_faults = Counter(case.equipment for case in material.faults)
    return {
        "left_out_faults": len(material.faults) - len(faults),
        "overall": _per_ballots(len(faults), whole),
        "by_zone": {name: _per_ballots(in_zone[name], of_zone[name]) for name in sorted(of_zone)},
        "by_equipment": {name: _per_ballots(of_class[name], whole) for name in sorted(classes)},
        "per_100_devices": {
            name: _per_devices(all_faults[name], devices[name]) for name in sorted(devices)
        },
    }


def _per_ballots(count: int, ballots: int) -> dict[str, Any]:
    return {"k": count, "exposure": ballots / PER_BALLOTS} | _limits(count, ballots, PER_BALLOTS)


def _per_devices(count: int, devices: int) -> dict[str, Any]:
    return {"k": count, "devices": devices} | _limits(count, devices, PER_DEVICES)


def _limits(count: int, exposure: int, per: int) -> dict[str, float | None]:
    found = rate(count, exposure, per)
    if found is None:
        return dict.fromkeys(("rate", "low", "high"))
    return {"rate": found.value, "low": found.low, "high": found.high}
