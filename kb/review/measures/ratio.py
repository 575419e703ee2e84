"""Two counts over their exposures: the ratio of rates, exactly, given the two together.

Given k1 + k2, k2 is Binomial(k1 + k2, n2 / (n1 + n2)) where the rates are equal; the limits are
those of Clopper and Pearson (1934) of its share, carried over.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import bdtr, bdtrc, gammaln, xlog1py, xlogy

from kb.review.measures.shares import clopper_pearson

# Two outcomes as likely as each other count as such in floating point.
_EVEN = 1 + 1e-7


@dataclass(frozen=True)
class Ratio:
    """The second rate over the first with 95 % limits; None where it is infinite or nothing.

    `p`: two-sided, the sum of the chances not above that of what was seen; `central`: the
    doubled smaller tail.
    """

    value: float | None
    low: float | None
    high: float | None
    p: float | None
    central: float | None


def ratio(k1: int, n1: float, k2: int, n2: float) -> Ratio:
    """(k2 / n2) / (k1 / n1); nothing where an exposure is 0."""
    if n1 <= 0 or n2 <= 0:
        return Ratio(None, None, None, None, None)
    whole, share = k1 + k2, n2 / (n1 + n2)
    if whole == 0:
        return Ratio(None, 0.0, None, 1.0, 1.0)
    low, high = clopper_pearson(k2, whole)
    value = (k2 / n2) / (k1 / n1) if k1 else None
    return Ratio(
        value,
        low / (1 - low) * n1 / n2 if low < 1 else None,
        high / (1 - high) * n1 / n2 if high < 1 else None,
        _two_sided(k2, whole, share),
        _central(k2, whole, share),
    )


def _two_sided(count: int, of: int, share: float) -> float:
    x = np.arange(of + 1)
    log = gammaln(of + 1) - gammaln(x + 1) - gammaln(of - x + 1)
    chances = np.exp(log + xlogy(x, share) + xlog1py(of - x, -share))
    return min(1.0, float(chances[chances <= chances[count] * _EVEN].sum()))


def _central(count: int, of: int, share: float) -> float:
    below = float(bdtr(count, of, share))
    above = float(bdtrc(count - 1, of, share)) if count else 1.0
    return min(1.0, 2 * min(below, above))
