"""Fourth signal: how near a call is in meaning to what callers say of an article.

Title and phrases of an article become sentence vectors, and their mean stands for it. Directions
in which the phrases of one article differ among themselves (who speaks, how politely, how long)
say nothing about the fault, so they are made short before likeness is taken: the vectors are
whitened by the covariance within articles, as in Fisher's linear discriminant (1936), shrunk
towards equal directions as in Ledoit and Wolf (2004), with a fixed share.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kb.search.encoder import Vectors

# Weight of equal directions beside the measured ones: phrases are few for so many directions.
_SHRINKAGE = 3.0
# Phrases that the covariance is taken from; more would change little and take long at an edit.
_SAMPLE = 1024


class MeaningTable:
    """One direction for each document, from its phrases' vectors (rows, grouped by `sizes`)."""

    def __init__(self, vectors: Vectors, sizes: Sequence[int]) -> None:
        counts = np.array(sizes, dtype=np.float32)
        means = np.add.reduceat(vectors, np.cumsum([0, *sizes])[:-1]) / counts[:, None]
        self._centre = vectors.mean(axis=0)
        within = vectors - np.repeat(means, sizes, axis=0)
        within = within[:: -(-len(within) // _SAMPLE)]
        covariance = within.T @ within / len(within)
        equal = _SHRINKAGE * np.trace(covariance) / len(covariance) + 1e-6
        shrunk = covariance + equal * np.eye(len(covariance), dtype=np.float32)
        self._inverse = np.linalg.inv(shrunk)
        moved = means - self._centre
        turned = moved @ self._inverse
        length = np.sqrt((turned * moved).sum(axis=1))
        self._directions = (turned / np.maximum(length, 1e-9)[:, None]).astype(np.float32)

    def likeness(self, call: Vectors) -> NDArray[np.float64]:
        """Return the cosine of a call's vector with each document, 0 where it is negative."""
        moved = call - self._centre
        length = float(moved @ self._inverse @ moved) ** 0.5
        cosine = self._directions @ moved.astype(np.float32) / max(length, 1e-9)
        return np.asarray(np.maximum(cosine, 0), dtype=np.float64)
