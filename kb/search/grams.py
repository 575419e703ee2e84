"""Second signal: how many short runs of letters a call shares with an article.

Runs of three and four letters within words forgive spelling, endings and word forms that no
stemmer joins, in English and Spanish alike. Weighting is the usual tf-idf with cosine length
(Salton and Buckley 1988). A word's share does not depend on the words around it, so it can be
kept, and a call is the sum of its words.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

SIZES = (3, 4)


def grams(word: str) -> list[str]:
    """Return the runs of letters of one word, its two edges marked by a blank."""
    edged = f" {word} "
    return [edged[at : at + size] for size in SIZES for at in range(len(edged) - size + 1)]


class GramTable:
    """Documents as weighted runs of letters. `texts` gives each document's words with weights."""

    def __init__(self, texts: Sequence[Mapping[str, float]]) -> None:
        vocabulary = {
            word: number for number, word in enumerate({w for text in texts for w in text})
        }
        spelled = [Counter(grams(word)) for word in vocabulary]
        self._ids = {gram: n for n, gram in enumerate({g for word in spelled for g in word})}
        of_words = _matrix(spelled, self._ids)
        counts = sparse.csr_array(_matrix(texts, vocabulary) @ of_words)
        holders = np.bincount(counts.indices, minlength=len(self._ids))
        self._idf = np.log1p(len(texts) / np.maximum(holders, 1))
        self._unknown = math.log1p(len(texts))
        counts.data = 1 + np.log(np.maximum(counts.data, 1))
        counts = sparse.csr_array(counts * self._idf[None, :])
        length = np.sqrt((counts * counts).sum(axis=1))
        self._matrix = sparse.csc_array(counts / np.maximum(length, 1e-9)[:, None])

    def score(self, word: str) -> tuple[NDArray[np.float64], float]:
        """Return a word's share of the cosine for each document, and its own squared length.

        The cosine of a call is the sum of the shares over the root of the sum of the lengths.
        """
        parts = Counter(grams(word))
        known = [gram for gram in parts if gram in self._ids]
        columns = [self._ids[gram] for gram in known]
        weights = self._idf[columns] * (1 + np.log([float(parts[gram]) for gram in known]))
        unknown = (len(parts) - len(known)) * self._unknown**2
        shares = self._matrix[:, columns] @ weights
        return np.asarray(shares), float(weights @ weights) + unknown


def _matrix(rows: Sequence[Mapping[str, float]], columns: Mapping[str, int]) -> sparse.csr_array:
    data = [float(weight) for row in rows for weight in row.values()]
    indices = [columns[key] for row in rows for key in row]
    ends = np.cumsum([0, *(len(row) for row in rows)])
    return sparse.csr_array((data, indices, ends), shape=(len(rows), len(columns)))
