"""The library's word that a mistyped word was meant to be.

All words are compared in one go: the usual table of edit distances is filled for the whole
vocabulary at once, a column of numbers a cell, so no index of misspellings has to be kept.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

# A short word one letter off is another word; a long one is still itself two letters off.
_SHORTEST = 4
_LONG = 8
_LONGEST = 24


def allowed(word: str) -> int:
    """How many letters of a word may be wrong: 0 under 4 letters and with digits, 2 from 8 on."""
    if len(word) < _SHORTEST or len(word) > _LONGEST or any(sign.isdigit() for sign in word):
        return 0
    return 1 if len(word) < _LONG else 2


class Vocabulary:
    """The words that can be meant, with how often each occurs."""

    def __init__(self, counts: dict[str, int]) -> None:
        self.counts = counts
        kept = [word for word in counts if allowed(word)]
        self._words = np.array(kept, dtype=object)
        self._lengths = np.array([len(word) for word in kept], dtype=np.intp)
        self._letters = _letters(kept)

    def __contains__(self, word: str) -> bool:
        return word in self.counts

    def nearest(self, word: str, limit: int = 3) -> list[tuple[str, int]]:
        """Return the nearest words within the bound, each with its distance, all equally near.

        Words with the same first letter come first, then the frequent ones. Empty where none is
        near enough.
        """
        bound = allowed(word)
        if not bound:
            return []
        near = np.flatnonzero(abs(self._lengths - len(word)) <= bound)
        distance = distances(word, self._letters[near], self._lengths[near])
        if not near.size or distance.min() > bound:
            return []
        least = int(distance.min())
        found: Iterable[str] = self._words[near[distance == least]]
        ranked = sorted(found, key=lambda other: (other[0] != word[0], -self.counts[other], other))
        return [(other, least) for other in ranked[:limit]]

    def halves(self, word: str) -> tuple[str, str] | None:
        """Return the two known words that an unknown one is made of ("pollbook"), if any."""
        cuts = range(3, len(word) - 2)
        pairs = ((word[:cut], word[cut:]) for cut in cuts)
        known = [pair for pair in pairs if pair[0] in self.counts and pair[1] in self.counts]
        return max(known, key=lambda pair: min(self.counts[half] for half in pair), default=None)


def distances(word: str, letters: NDArray[np.int32], lengths: NDArray[np.intp]) -> NDArray[np.intp]:
    """Optimal string alignment distance of a word to every row of `letters`.

    The Levenshtein distance with a swap of two neighbours counted once; rows are code points,
    padded with 0 beyond their `lengths`.
    """
    count, width = letters.shape
    before = np.zeros((width + 1, count), dtype=np.intp)
    above = np.repeat(np.arange(width + 1)[:, None], count, axis=1)
    for row, sign in enumerate(word, start=1):
        here = np.empty_like(above)
        here[0] = row
        for column in range(1, width + 1):
            same = letters[:, column - 1] == ord(sign)
            cell = np.minimum(above[column], here[column - 1]) + 1
            cell = np.minimum(cell, above[column - 1] + ~same)
            if row > 1 and column > 1:
                swapped = (letters[:, column - 2] == ord(sign)) & (
                    letters[:, column - 1] == ord(word[row - 2])
                )
                cell = np.where(swapped, np.minimum(cell, before[column - 2] + 1), cell)
            here[column] = cell
        before, above = above, here
    return above[lengths, np.arange(count)]


def _letters(words: list[str]) -> NDArray[np.int32]:
    table = np.zeros((len(words), _LONGEST), dtype=np.int32)
    for row, word in enumerate(words):
        table[row, : len(word)] = [ord(sign) for sign in word]
    return table
