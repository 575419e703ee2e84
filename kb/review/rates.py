"""Rates of faults with exact Poisson limits, and when a rate is too uncertain to say.

A count of faults is taken as Poisson. The limits are those of Garwood, F. (1936), "Fiducial
limits for the Poisson distribution", Biometrika 28, 437-442, in their chi-square form:

    low = chi2(0.025; 2k) / 2 (0 when k = 0)        high = chi2(0.975; 2k + 2) / 2
"""

from __future__ import annotations

from dataclasses import dataclass

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
