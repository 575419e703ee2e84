"""Third signal: the one phrase of an article that comes nearest to the call.

The sum over fields cannot tell a phrase that was said in full from the same words strewn over
the text. Here each title and each phrase stands alone: cosine of stems weighted by how rare
they are among the phrases, and an article is as near as its best one.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kb.search.text import stems


class PhraseTable:
    """Phrases, grouped by document; every document has at least one (its title)."""

    def __init__(self, groups: Sequence[Sequence[str]]) -> None:
        phrases = [frozenset(stems(phrase)) for group in groups for phrase in group]
        self.size = len(phrases)
        self._starts = np.cumsum([0, *(len(group) for group in groups)])[:-1]
        self._count = Counter(stem for phrase in phrases for stem in phrase)
        places: dict[str, list[int]] = {stem: [] for stem in self._count}
        shares: dict[str, list[float]] = {stem: [] for stem in self._count}
        for number, phrase in enumerate(phrases):
            length = math.sqrt(sum(self.rarity(stem) ** 2 for stem in phrase))
            for stem in phrase:
                places[stem].append(number)
                shares[stem].append(self.rarity(stem) ** 2 / length)
        self._postings = {
            stem: (np.array(places[stem], np.intp), np.array(shares[stem])) for stem in places
        }

    def rarity(self, stem: str) -> float:
        """Inverse document frequency among the phrases; the highest for a stem in none."""
        return math.log1p(self.size / (self._count[stem] + 0.5))

    def postings(self, stem: str) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
        """Return the phrases that hold a stem, and its share of each one's cosine."""
        return self._postings.get(stem, _NONE)

    def best(self, cosines: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the best cosine of each document, given that of each phrase."""
        return np.maximum.reduceat(cosines, self._starts)


_NONE = (np.array([], np.intp), np.array([]))
