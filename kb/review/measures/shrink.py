"""Shrunken rates: what the rate of a place is likely to be, given how places differ.

A small place's own rate says little, so it is drawn towards the rate of all: by moments
(Marshall, R. J. 1991, "Mapping disease and mortality rates using empirical Bayes estimators",
Applied Statistics 40, 283-294), and by a gamma distribution of the places' rates fitted by
maximum likelihood (Clayton, D. and Kaldor, J. 1987, "Empirical Bayes estimates of age-standardized
relative risks", Biometrics 43, 671-681).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import brentq
from scipy.special import digamma, gammaincinv, gammaln, xlogy

from kb.review.measures.compared import Array, Compared

TOP = 10
# Beyond such a log of the shape the negative binomial is Poisson to within floating point.
_EDGE = 18.0


@dataclass(frozen=True)
class Gamma:
    """Rates of places as Gamma(shape nu, rate alpha); both None where they do not differ."""

    nu: float | None
    alpha: float | None
    loglik: float


def marshall(found: Compared) -> tuple[float, Array]:
    """A, the variance between places, and the shrunken rates."""
    centre, n = found.centre, found.n
    spread = float((n * (found.u - centre) ** 2).sum() / n.sum())
    between = max(0.0, spread - centre / float(n.mean()))
    own = between / (between + centre / n) if centre else np.zeros_like(n)
    return between, centre + own * (found.u - centre)


def fit(k: Array, n: Array) -> Gamma:
    """Nu and alpha that maximise the negative binomial likelihood of counts k over exposures n.

    Where sum((k - e)^2 - k) > 0, the score of 1/nu at 0, places differ and the profile likelihood
    has its maximum inside. Else the infinite shape (Poisson) is a maximum, and where exposures
    are very unequal a higher one may lie inside all the same: so the profile is looked through.
    """
    mean = float(k.sum() / n.sum())
    expected = mean * n
    same = Gamma(None, None, float((xlogy(k, expected) - expected - gammaln(k + 1)).sum()))
    if mean == 0:
        return same

    def score(log_nu: float) -> float:
        nu = float(np.exp(log_nu))
        alpha = _alpha(nu, k, n, mean)
        return float((digamma(nu + k) - digamma(nu) + np.log(alpha / (alpha + n))).sum())

    differ = float(((k - expected) ** 2 - k).sum()) > 0
    brackets = _first_bracket(score) if differ else _all_brackets(score)
    found = [_at(float(np.exp(brentq(score, *ends, xtol=1e-14, rtol=1e-14))), k, n, mean)
             for ends in brackets]  # fmt: skip
    return max([*found, same], key=lambda one: one.loglik)


def _at(nu: float, k: Array, n: Array, mean: float) -> Gamma:
    alpha = _alpha(nu, k, n, mean)
    return Gamma(nu, alpha, loglik(nu, alpha, k, n))


def _first_bracket(score: Callable[[float], float]) -> list[tuple[float, float]]:
    """Two values of log nu between which the score falls through 0; none up to the edge."""
    low, high = -3.0, 3.0
    while score(low) < 0 and low > -_EDGE:
        low -= 3
    while score(high) > 0:
        high += 3
        if high > _EDGE:
            return []
    return [(low, high)]


def _all_brackets(score: Callable[[float], float]) -> list[tuple[float, float]]:
    """Every pair of neighbours on a grid of log nu between which the score falls through 0."""
    grid = np.arange(-8.0, 12.0, 0.5)
    values = [score(one) for one in grid]
    return [
        (float(grid[number]), float(grid[number + 1]))
        for number in range(len(grid) - 1)
        if values[number] > 0 >= values[number + 1]
    ]


def loglik(nu: float, alpha: float, k: Array, n: Array) -> float:
    """The log-likelihood of negative binomial counts with shape nu and rate alpha."""
    own = gammaln(nu + k) - gammaln(nu) - gammaln(k + 1)
    return float((own + nu * np.log(alpha / (alpha + n)) + xlogy(k, n / (alpha + n))).sum())


def _alpha(nu: float, k: Array, n: Array, mean: float) -> float:
    """The best rate for a shape: the root of sum(nu / alpha - (nu + k) / (alpha + n))."""

    def slope(log_alpha: float) -> float:
        alpha = np.exp(log_alpha)
        return float((nu - alpha * (nu + k) / (alpha + n)).sum())

    begin = float(np.log(nu / mean))
    low, high = begin - 1, begin + 1
    while slope(low) < 0:
        low -= 2
    while slope(high) > 0:
        high += 2
    return float(np.exp(brentq(slope, low, high, xtol=1e-14, rtol=1e-14)))


def shrunken(found: Compared, gamma: Gamma) -> tuple[Array, Array, Array]:
    """Rates by the fitted gamma, with the limits of their 95 % intervals."""
    if gamma.nu is None or gamma.alpha is None:
        same = np.full(len(found.n), found.centre)
        return same, same, same
    shape, rate = gamma.nu + found.k, gamma.alpha + found.n
    return shape / rate, gammaincinv(shape, 0.025) / rate, gammaincinv(shape, 0.975) / rate


def shrinkage(found: Compared, gamma: Gamma) -> dict[str, Any]:
    """Raw and shrunken rates per 1,000 ballots of every usable place."""
    if not found.places:
        empty = dict.fromkeys(("marshall_A", "ml_nu", "ml_alpha", "ml_loglik"))
        lists: dict[str, Any] = {
            name: [] for name in ("top10_raw", "top10_ml", "top10_marshall", "bottom10_ml")
        }
        return empty | lists | {"places": {}}
    between, by_moments = marshall(found)
    ml, low, high = shrunken(found, gamma)
    return {
        "marshall_A": between,
        "ml_nu": gamma.nu,
        "ml_alpha": gamma.alpha,
        "ml_loglik": gamma.loglik,
        "top10_raw": found.ranked(found.u)[:TOP],
        "top10_ml": found.ranked(ml)[:TOP],
        "top10_marshall": found.ranked(by_moments)[:TOP],
        "bottom10_ml": found.ranked(-ml)[:TOP],
        "places": {
            place: {
                "k": int(found.k[number]),
                "raw": float(found.u[number]),
                "marshall": float(by_moments[number]),
                "ml": float(ml[number]),
                "ml_low": float(low[number]),
                "ml_high": float(high[number]),
            }
            for number, place in enumerate(found.places)
        },
    }
