"""Funnels: which places lie further from the rate of all than chance explains.

Exact Poisson tails, and two that allow for places that differ anyway (overdispersion): the
normal limits widened by the winsorised dispersion (Spiegelhalter, D. J. 2005, "Funnel plots for
comparing institutional performance", Statistics in Medicine 24, 1185-1202), and the tails of the
fitted gamma-Poisson distribution.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.special import betainc, gammainc, gammaincc

from kb.review.measures.compared import Array, Compared
from kb.review.measures.shared import adjusted
from kb.review.measures.shrink import Gamma, fit

TAIL_95, TAIL_998 = 0.025, 0.001
Z_95, Z_998 = 1.959964, 3.090232


def poisson_tails(k: Array, mean: Array) -> tuple[Array, Array]:
    """P(X >= k) and P(X <= k) of a Poisson mean, by the incomplete gamma function."""
    at_least = np.where(k > 0, gammainc(np.maximum(k, 1), mean), 1.0)
    return at_least.astype(float), gammaincc(k + 1, mean).astype(float)


def gamma_tails(k: Array, n: Array, gamma: Gamma, centre: float) -> tuple[Array, Array]:
    """P(X >= k) and P(X <= k) of the fitted gamma-Poisson, by the incomplete beta function.

    Negative binomial with size nu and probability alpha / (alpha + n); Poisson at the rate of
    all where places do not differ.
    """
    if gamma.nu is None or gamma.alpha is None:
        return poisson_tails(k, centre * n)
    p = gamma.alpha / (gamma.alpha + n)
    at_least = np.where(k > 0, betainc(np.maximum(k, 1), gamma.nu, 1 - p), 1.0)
    return at_least.astype(float), betainc(gamma.nu, k + 1, p).astype(float)


def winsorised(z: Array) -> float:
    """Mean square of z, each beyond the 10th or 90th percentile set to it."""
    low, high = np.percentile(z, [10, 90])
    return float((np.clip(z, low, high) ** 2).mean())


def funnel(found: Compared, gamma: Gamma) -> dict[str, Any]:
    """The four funnels over the usable places, and how much more than Poisson they vary."""
    k, z = found.k, found.z
    high, low = poisson_tails(k, found.expected)
    wide_high, wide_low = gamma_tails(k, found.n, gamma, found.centre)
    some = bool(found.places)
    phi = winsorised(z) if some else None
    scaled = z / np.sqrt(max(1.0, phi or 0.0))
    squares, degrees = float((z**2).sum()), len(z) - 1
    return {
        "target": found.centre if some else None,
        "exact_95_high": found.named(high <= TAIL_95),
        "exact_95_low": found.named(low <= TAIL_95),
        "exact_998_high": found.named(high <= TAIL_998),
        "exact_998_low": found.named(low <= TAIL_998),
        "phi_winsorised": phi,
        "phi_plain": float((z**2).mean()) if some else None,
        # The tail of a chi-square of I - 1 degrees.
        "dispersion_p": float(gammaincc(degrees / 2, squares / 2)) if degrees > 0 else None,
        "multiplicative_95_high": found.named(scaled > Z_95),
        "multiplicative_998_high": found.named(scaled > Z_998),
        "multiplicative_95_low": found.named(scaled < -Z_95),
        "gamma_poisson_95_high": found.named(wide_high <= TAIL_95),
        "gamma_poisson_998_high": found.named(wide_high <= TAIL_998),
        "gamma_poisson_95_low": found.named(wide_low <= TAIL_95),
        "expected": {
            place: {
                "k": int(k[number]),
                "expected": float(found.expected[number]),
                "p_high": float(high[number]),
            }
            for number, place in enumerate(found.places)
        },
    }


def against_others(found: Compared, least: int, level: float) -> dict[str, float]:
    """The chance of so many faults at each place, by the gamma-Poisson of all the others alone.

    A place that is high would widen its own limits. The values are adjusted for all places
    (Benjamini and Hochberg 1995); those with fewer than `least` faults, or whose exact Poisson
    tail is above `level`, count as 1.
    """
    tails, _ = poisson_tails(found.k, found.expected)
    chances = np.ones(len(found.places))
    for number in map(int, np.flatnonzero((tails <= level) & (found.k >= least))):
        others = np.arange(len(found.places)) != number
        k, n = found.k[others], found.n[others]
        if not len(k):
            continue
        one = slice(number, number + 1)
        centre = float(k.sum() / n.sum())
        high, _ = gamma_tails(found.k[one], found.n[one], fit(k, n), centre)
        chances[number] = high[0]
    return dict(zip(found.places, adjusted(list(chances)), strict=True))
