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

from kb.search.prepared import Prepared, grams, joined


class GramTable:
    """Documents as weighted runs of letters; `ids` numbers the runs."""

    def __init__(self, documents: Sequence[Prepared], ids: Mapping[str, int]) -> None:
        self._ids = ids
        # Numbers given to runs later belong to documents of a later table.
        self._size = len(ids)
        holders = np.zeros(self._size, dtype=np.int32)
        for one in documents:
            holders[one.gram_ids] += 1
        self._idf = np.log1p(len(documents) / np.maximum(holders, 1))
        self._unknown = math.log1p(len(documents))
        # A document at a time: the same in one go takes many times the memory of the result.
        weights = [self._weights(one) for one in documents]
        ends = np.cumsum([0, *map(len, weights)], dtype=np.int32)
        columns = joined([one.gram_ids for one in documents])
        values = np.concatenate(weights) if weights else np.array([], np.float32)
        shape = (len(documents), self._size)
        self._matrix = sparse.csr_array((values, columns, ends), shape=shape).tocsc()

    def _weights(self, document: Prepared) -> NDArray[np.float32]:
        """Return the weight of each run of one document, of length 1 all together."""
        weights = (1 + np.log(np.maximum(document.gram_counts, 1))) * self._idf[document.gram_ids]
        return (weights / max(float(np.linalg.norm(weights)), 1e-9)).astype(np.float32)

    def score(self, word: str) -> tuple[NDArray[np.float32], float]:
        """Return a word's share of the cosine for each document, and its own squared length.

        The cosine of a call is the sum of the shares over the root of the sum of the lengths.
        """
        parts = Counter(grams(word))
        known = {gram: self._ids[gram] for gram in parts if gram in self._ids}
        known = {gram: column for gram, column in known.items() if column < self._size}
        columns = list(known.values())
        weights = self._idf[columns] * (1 + np.log([float(parts[gram]) for gram in known]))
        unknown = (len(parts) - len(known)) * self._unknown**2
        shares = self._matrix[:, columns] @ weights
        return np.asarray(shares, np.float32), float(weights @ weights) + unknown
