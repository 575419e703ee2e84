"""Fourth signal: how near a call is in meaning to what callers say of an article.

Title and phrases of an article become sentence vectors, and their mean stands for it. Directions
in which the phrases of one article differ among themselves (who speaks, how politely, how long)
say nothing about the fault, so they are made short before likeness is taken: the vectors are
whitened by the covariance within articles, as in Fisher's linear discriminant (1936), shrunk
towards equal directions as in Ledoit and Wolf (2004), with a fixed share.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kb.search.documents import Document
from kb.search.encoder import SIZE, Vectors
from kb.search.store import KeptVectors

# Weight of equal directions beside the measured ones: phrases are few for so many directions.
_SHRINKAGE = 3.0
# Phrases that the covariance is taken from; more would change little and take long.
_SAMPLE = 1024
# Where fewer than one document in so many changed, the directions are not measured anew.
_FEW = 10


@dataclass(frozen=True)
class Basis:
    """Where vectors are measured from, and the inverse of the covariance within articles."""

    centre: Vectors
    inverse: Vectors


def measure(groups: Iterable[Vectors], total: int) -> tuple[Vectors, Basis]:
    """Return the mean of each article's phrases and the basis, from the phrases' vectors.

    A group is one article's rows; `total` is how many rows there are in all.
    """
    step = -(-total // _SAMPLE)
    means, apart, start = [], [], 0
    centre = 0.0
    for rows in groups:
        centre = centre + rows.sum(axis=0)
        means.append(rows.mean(axis=0))
        apart.append((rows - means[-1])[start::step].copy())
        start = (start - len(rows)) % step
    within = np.concatenate(apart)
    covariance = within.T @ within / len(within)
    equal = _SHRINKAGE * np.trace(covariance) / len(covariance) + 1e-6
    shrunk = covariance + equal * np.eye(len(covariance), dtype=np.float32)
    inverse = np.linalg.inv(shrunk).astype(np.float32)
    return np.stack(means), Basis(np.asarray(centre / total, np.float32), inverse)


class MeaningTable:
    """One direction for each document (a row of length 1 in the measure of the basis)."""

    def __init__(self, directions: Vectors, basis: Basis, elsewhere: Vectors | None = None) -> None:
        self._directions = directions
        self._basis = basis
        # The direction of calls on other matters.
        self._elsewhere = elsewhere

    def likeness(self, call: Vectors) -> NDArray[np.float64]:
        """Return the cosine of a call's vector with each document, 0 where it is negative."""
        cosine = self._directions @ self._unit(call)
        return np.asarray(np.maximum(cosine, 0), dtype=np.float64)

    def elsewhere(self, call: Vectors) -> float:
        """Return the cosine of a call's vector with calls on other matters; -1 without any."""
        return -1.0 if self._elsewhere is None else float(self._elsewhere @ self._unit(call))

    def _unit(self, call: Vectors) -> Vectors:
        moved = call - self._basis.centre
        length = float(moved @ self._basis.inverse @ moved) ** 0.5
        return np.asarray(moved / max(length, 1e-9))


def directions(means: Vectors, basis: Basis) -> Vectors:
    """Return the direction in which each mean of phrases (a row) lies."""
    moved = means - basis.centre
    turned = moved @ basis.inverse
    length = np.sqrt((turned * moved).sum(axis=1))
    return np.asarray(turned / np.maximum(length, 1e-9)[:, None])


class Meanings:
    """Makes tables for one index, under its lock: an edit costs the edited document only."""

    def __init__(self, vectors: KeptVectors, elsewhere: Sequence[str] = ()) -> None:
        self._vectors = vectors
        self._elsewhere = elsewhere
        self._held: dict[str, tuple[Document, Vectors]] = {}
        self._basis: Basis | None = None

    def table(self, documents: Sequence[Document]) -> MeaningTable | None:
        """Return the table of documents in their order; None for none."""
        if not documents:
            return None
        changed = [one for one in documents if self._held.get(one.slug, (None,))[0] != one]
        if self._basis is None or len(changed) * _FEW >= len(documents):
            changed, self._basis = list(documents), None
        said = [(one.title, *one.phrases) for one in changed]
        groups = self._vectors.groups(said)
        if self._basis is None:
            means, self._basis = measure(groups, sum(map(len, said)))
        else:
            means = np.stack([rows.mean(axis=0) for rows in groups]) if said else _NONE
        rows = directions(means, self._basis)
        fresh = {one.slug: (one, row) for one, row in zip(changed, rows, strict=True)}
        held = self._held | fresh
        self._held = {one.slug: held[one.slug] for one in documents}
        return MeaningTable(
            np.stack([row for _, row in self._held.values()]), self._basis, self._other_matters()
        )

    def _other_matters(self) -> Vectors | None:
        if not self._elsewhere or self._basis is None:
            return None
        rows = next(self._vectors.groups([self._elsewhere]))
        return np.asarray(directions(rows.mean(axis=0)[None], self._basis)[0])


_NONE = np.zeros((0, SIZE), dtype=np.float32)
