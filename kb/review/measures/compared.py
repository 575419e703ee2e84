"""Places compared: what each place had, and what it would have had at the rate of all.

Every chart, funnel and shrunken rate starts from these arrays, over the usable places in the
ascending order of their ids: faults k, exposure n in 1,000 ballots, rate u = k / n; the centre is
the rate of all places together, expected e = centre x n.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.review.rows import Material

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Compared:
    """The usable places with their faults `k` and exposures `n`, in 1,000 ballots."""

    places: tuple[str, ...]
    k: Array
    n: Array

    @cached_property
    def centre(self) -> float:
        """Faults per 1,000 ballots over all; 0 where there is no place."""
        return float(self.k.sum() / self.n.sum()) if len(self.n) else 0.0

    @cached_property
    def u(self) -> Array:
        """The rate of each place."""
        return self.k / self.n

    @cached_property
    def expected(self) -> Array:
        """What each place would have had at the rate of all."""
        return self.centre * self.n

    @cached_property
    def z(self) -> Array:
        """How far each place is from the centre, in Poisson standard errors (Pearson)."""
        if self.centre == 0:
            return np.zeros_like(self.n)
        return (self.k - self.expected) / np.sqrt(self.expected)

    def named(self, which: NDArray[np.bool_]) -> list[str]:
        """The ids of these places."""
        return [self.places[number] for number in np.flatnonzero(which)]

    def ranked(self, values: Array) -> list[str]:
        """All ids by descending value, ties by id."""
        order = np.lexsort((np.arange(len(values)), -values))
        return [self.places[number] for number in order]


def compared(material: Material) -> Compared:
    """The usable places of an election."""
    ballots = material.ballots
    faults = Counter(case.place for case in material.faults)
    return of_counts(tuple(ballots), [faults[place] for place in ballots], list(ballots.values()))


def of_counts(places: tuple[str, ...], faults: Sequence[int], ballots: Sequence[int]) -> Compared:
    """The same from counts of faults and ballots."""
    return Compared(places, np.array(faults, float), np.array(ballots, float) / 1000)
