"""How well a ranking serves queries with known answers.

nDCG is that of Järvelin and Kekäläinen (2002) with the gain 2^grade - 1 of Burges et al. (2005)
and the discount log2(rank + 1); success@k and the reciprocal rank count the highest grade of a
query only, since that is the article to open. Where no article fits a query, every measure is 1
if the ranking says so and 0 if not.

Intervals are percentile bootstrap over queries (Efron and Tibshirani 1993), 95 %.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kb.search.queries import Query

DEPTH = 10
NAMES = ("nDCG@10", "success@1", "success@3", "success@5", "MRR@10")
_RESAMPLES = 2000
_SEED = 20240805


@dataclass(frozen=True)
class Ranked:
    """Slugs, best first, and whether the ranking holds that they fit."""

    slugs: Sequence[str]
    fits: bool = True


@dataclass(frozen=True)
class Figure:
    """A mean over queries with its 95 % interval."""

    value: float
    low: float
    high: float

    def __str__(self) -> str:
        return f"{self.value:.3f} ({self.low:.3f}-{self.high:.3f})"


def exponential(grade: int) -> float:
    """Return the gain of a grade: 0, 1, 3, 7 and so on."""
    return float(2**grade - 1)


def ndcg(
    slugs: Sequence[str],
    grades: Mapping[str, int],
    depth: int = DEPTH,
    gain: Callable[[int], float] = exponential,
) -> float:
    """Discounted gain of the first `depth` slugs over that of the best possible order."""
    reached = [gain(grades.get(slug, 0)) for slug in slugs[:depth]]
    ideal = sorted((gain(grade) for grade in grades.values()), reverse=True)[:depth]
    best = _discounted(ideal)
    return _discounted(reached) / best if best > 0 else 0.0


def success(slugs: Sequence[str], right: Collection[str], depth: int) -> float:
    """1 where a right slug is among the first `depth`, else 0."""
    return float(any(slug in right for slug in slugs[:depth]))


def reciprocal_rank(slugs: Sequence[str], right: Collection[str], depth: int = DEPTH) -> float:
    """One over the rank of the first right slug; 0 where none is among the first `depth`."""
    ranks = (rank for rank, slug in enumerate(slugs[:depth], start=1) if slug in right)
    return 1 / next(ranks, math.inf)


def scores(ranked: Ranked, query: Query) -> list[float]:
    """Return the measures of one query, in the order of `NAMES`."""
    if not query.best:
        return [float(not ranked.fits)] * len(NAMES)
    slugs, right = ranked.slugs, query.best
    return [
        ndcg(slugs, query.grades),
        *(success(slugs, right, depth) for depth in (1, 3, 5)),
        reciprocal_rank(slugs, right),
    ]


def measure(ranking: Callable[[str], Ranked], queries: Iterable[Query]) -> dict[str, Figure]:
    """Return each measure's mean and interval over the queries, of which there is at least one.

    The resamples are drawn with a fixed seed, so two rankings are judged on the same ones.
    """
    table = np.array([scores(ranking(query.text), query) for query in queries])
    drawn = np.random.default_rng(_SEED).integers(len(table), size=(_RESAMPLES, len(table)))
    means = table[drawn].mean(axis=1)
    low, high = np.percentile(means, [2.5, 97.5], axis=0)
    return {
        name: Figure(float(value), float(least), float(most))
        for name, value, least, most in zip(NAMES, table.mean(axis=0), low, high, strict=True)
    }


def _discounted(gains: Sequence[float]) -> float:
    return sum(gain / math.log2(rank + 1) for rank, gain in enumerate(gains, start=1))
