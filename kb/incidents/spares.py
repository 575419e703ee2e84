"""Spares in store: what is left of each class, and the chance that it lasts the day."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from scipy.special import betainc

from kb.incidents.places import Device


@dataclass(frozen=True)
class Left:
    """One class: spares in store, by route or depot where known, how many went out today.

    `lasts`: the chance (0 to 1) that no more are needed before the close than are left; None
    where the day has not begun or is over.
    """

    equipment: str
    left: int
    by_route: tuple[tuple[str, int], ...]
    used: int
    lasts: float | None


def spares(
    devices: Iterable[Device], swapped_in: Iterable[str], gone: float, to_come: float
) -> list[Left]:
    """The classes that have spares, by their ids.

    `swapped_in`: assets that were put in another's place today; `gone` and `to_come`: hours of
    voting so far, and until the close.
    """
    out = set(swapped_in)
    left: defaultdict[str, Counter[str]] = defaultdict(Counter)
    used: Counter[str] = Counter()
    for device in devices:
        if not device.spare:
            continue
        taken = device.asset in out
        used[device.equipment] += taken
        if device.place is None:
            left[device.equipment][device.route] += not taken
    return [
        Left(
            equipment,
            routes.total(),
            tuple(sorted((route, number) for route, number in routes.items() if route)),
            used[equipment],
            chance(used[equipment], routes.total(), gone, to_come),
        )
        for equipment, routes in sorted(left.items())
    ]


def chance(used: int, left: int, gone: float, to_come: float) -> float | None:
    """The chance that at most `left` more are needed in the hours to come.

    Needs come as a Poisson stream whose rate is not known but for the `used` in the hours gone.
    With the prior of Jeffreys for a rate what is still needed is negative binomial, and

        P(N <= left) = I_p(used + 1/2, left + 1), p = gone / (gone + to_come)

    (regularised incomplete beta; Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.6).
    """
    if gone <= 0 or to_come <= 0:
        return None
    return float(betainc(used + 0.5, left + 1, gone / (gone + to_come)))


def hours(now: datetime, opens: datetime, closes: datetime) -> tuple[float, float]:
    """Hours of voting gone, and to come."""
    inside = min(max(now, opens), closes)
    return (inside - opens).total_seconds() / 3600, (closes - inside).total_seconds() / 3600
