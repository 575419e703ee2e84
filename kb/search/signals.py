"""What each signal says about every document, for one call.

Every signal is a sum over the concepts of the call, so each concept's share is kept until the
index changes: a word that was asked before costs one addition. One object serves one thread, as
a Whoosh searcher must.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from whoosh.searching import Searcher

from kb.search.edition import Edition
from kb.search.encoder import Vectors
from kb.search.reading import Concept
from kb.search.whoosh_index import term_scores

Array = NDArray[np.float64] | NDArray[np.float32]
Places = NDArray[np.intp] | slice

# Concepts and stems kept; a day's calls use a few hundred.
_KEPT = 1024
# Bytes for what concepts share with every phrase: the largest arrays of all.
_PHRASE_BYTES = 32_000_000

# A concept in more than one phrase of so many is kept as a column of all phrases: adding it is
# quicker than picking the places.
_DENSE = 8


@dataclass(frozen=True)
class Signals:
    """Scores of all documents by each signal.

    `fields` is BM25F, open upwards; the others are cosines: 0 for nothing shared, about 1 for the
    same words or meaning. Without sentence vectors `meaning` is 0 throughout.
    `elsewhere` is the cosine with calls on other matters, -1 where none are listed.
    """

    fields: Array
    letters: Array
    phrase: Array
    meaning: Array
    elsewhere: float = -1.0


class Scorer:
    """Scores calls in one edition with one searcher."""

    def __init__(self, searcher: Searcher, edition: Edition) -> None:
        self.searcher = searcher
        self.edition = edition
        self._place = np.zeros(searcher.doc_count_all(), dtype=np.intp)
        for number, stored in searcher.reader().iter_docs():
            self._place[number] = edition.places[stored["slug"]]
        self.term = lru_cache(_KEPT)(self._read_term)
        self.concept = lru_cache(_KEPT)(self._read_fields)
        self._phrase = lru_cache(min(_KEPT, _PHRASE_BYTES // (4 * edition.phrases.size + 1)))(
            self._read_phrase
        )
        self._word = lru_cache(_KEPT)(edition.grams.score)
        self._letters = lru_cache(_KEPT)(self._read_letters)

    def signals(self, concepts: Sequence[Concept], call: Vectors | None = None) -> Signals:
        """Return what each signal says of a call: at least one concept, and its sentence vector."""
        meaning = self.edition.meaning
        return Signals(
            fields=self.by_fields(concepts),
            letters=self._sum_letters(concepts),
            phrase=self._best_phrase(concepts),
            meaning=(
                np.zeros(len(self.edition.documents))
                if meaning is None or call is None
                else meaning.likeness(call)
            ),
            elsewhere=-1.0 if meaning is None or call is None else meaning.elsewhere(call),
        )

    def by_fields(self, concepts: Sequence[Concept]) -> Array:
        """Return the first signal alone."""
        return _sum([self.concept(concept) for concept in concepts])

    def _read_term(self, stem: str) -> Array:
        scores = np.zeros(len(self.edition.documents), dtype=np.float32)
        found = term_scores(self.searcher, stem)
        scores[self._place[list(found)]] = list(found.values())
        return scores

    def _read_fields(self, concept: Concept) -> Array:
        """BM25F of a concept: all that it may stand for, each by its weight."""
        return _sum([share * self.term(stem) for stem, share in concept.terms])

    def _read_letters(self, concept: Concept) -> tuple[Array, float]:
        """Letters of the word itself and, beside them, of the likest thing it may stand for."""
        nothing = np.zeros(len(self.edition.documents)), 0.0
        own, squared = self._word(concept.word) if concept.said else nothing
        others = concept.terms[1:] if concept.said else concept.terms
        meant = [share * self._word(stem)[0] for stem, share in others]
        return own + _best(meant) if meant else own, squared

    def _sum_letters(self, concepts: Sequence[Concept]) -> Array:
        parts = [self._letters(concept) for concept in concepts]
        length = math.sqrt(sum(squared for _, squared in parts))
        return _sum([shares for shares, _ in parts]) / length

    def _read_phrase(self, concept: Concept) -> tuple[Places, Array]:
        """Share of a concept in the phrases that hold it: the best of what it may stand for."""
        phrases = self.edition.phrases
        best = np.zeros(phrases.size)
        for stem, share in concept.terms:
            places, shares = phrases.postings(stem)
            best[places] = np.maximum(best[places], share * shares)
        found = np.flatnonzero(best)
        if len(found) * _DENSE > phrases.size:
            return slice(None), best.astype(np.float32)
        return found, best[found]

    def _best_phrase(self, concepts: Sequence[Concept]) -> Array:
        phrases = self.edition.phrases
        total = np.zeros(phrases.size)
        squared = 0.0
        for concept in concepts:
            places, shares = self._phrase(concept)
            total[places] += shares
            if concept.said:
                squared += phrases.rarity(concept.terms[0][0]) ** 2
        return phrases.best(total) / math.sqrt(squared)


def _sum(arrays: Sequence[Array]) -> Array:
    return functools.reduce(np.add, arrays)


def _best(arrays: Sequence[Array]) -> Array:
    return functools.reduce(np.maximum, arrays)
