"""Third signal: the one phrase of an article that comes nearest to the call.

The sum over fields cannot tell a phrase that was said in full from the same words strewn over
the text. Here each title and each phrase stands alone: cosine of stems weighted by how rare
they are among the phrases, and an article is as near as its best one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from kb.search.prepared import Prepared, joined


class PhraseTable:
    """Phrases, grouped by document, each with at least one (its title); `ids` numbers the stems."""

    def __init__(self, documents: Sequence[Prepared], ids: Mapping[str, int]) -> None:
        self._ids = ids
        sizes = joined([one.phrase_sizes for one in documents])
        stems = joined([one.phrase_stems for one in documents])
        self.size = len(sizes)
        self._starts = np.cumsum([0, *(len(one.phrase_sizes) for one in documents)])[:-1]
        self._count = np.bincount(stems, minlength=len(ids))
        squared = np.log1p(self.size / (self._count + 0.5)) ** 2
        phrases = np.repeat(np.arange(self.size), sizes)
        length = np.sqrt(np.bincount(phrases, squared[stems], minlength=self.size))
        order = np.argsort(stems, kind="stable")
        self._places = phrases[order]
        self._shares = squared[stems[order]] / length[self._places]
        self._ends = np.cumsum(self._count)

    def rarity(self, stem: str) -> float:
        """Inverse document frequency among the phrases; the highest for a stem in none."""
        number = self._ids.get(stem, -1)
        count = self._count[number] if 0 <= number < len(self._count) else 0
        return math.log1p(self.size / (count + 0.5))

    def postings(self, stem: str) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
        """Return the phrases that hold a stem, and its share of each one's cosine."""
        number = self._ids.get(stem, -1)
        if not 0 <= number < len(self._count):
            return _NO_PLACES, _NO_SHARES
        part = slice(self._ends[number] - self._count[number], self._ends[number])
        return self._places[part], self._shares[part]

    def best(self, cosines: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the best cosine of each document, given that of each phrase."""
        return np.maximum.reduceat(cosines, self._starts)


_NO_PLACES: NDArray[np.intp] = np.array([], np.intp)
_NO_SHARES = np.array([])
