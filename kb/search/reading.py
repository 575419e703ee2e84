"""A call, read: each word with all that it may stand for in the library."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from kb.search.text import stem, words
from kb.search.typos import Vocabulary
from kb.search.wording import Terms, Wording

# A call is a sentence or two; whatever is pasted beyond that is not read.
LONGEST = 400

# How much a corrected word counts, by the number of letters that were wrong; a word taken apart.
CORRECTED = {1: 0.8, 2: 0.6}
HALVED = 0.8


@dataclass(frozen=True)
class Concept:
    """One thing the caller said.

    `terms` are the stems that it may stand for, with weights up to 1; its own comes first.
    `said` is false for a run of words that words.yaml lists: its words stand beside it.
    """

    word: str
    terms: Terms
    said: bool = True


class Reader:
    """Reads calls against one vocabulary."""

    def __init__(self, vocabulary: Vocabulary, wording: Wording) -> None:
        self._vocabulary = vocabulary
        self._stems = {stem(word) for word in vocabulary.counts}
        self._wording = wording
        self._concept = lru_cache(maxsize=4096)(self._read_word)

    def read(self, query: str) -> tuple[Concept, ...]:
        """Return the concepts of a call, in order and each once; none where it has no word."""
        said = words(query[:LONGEST], wholes=False)
        stems = [stem(word) for word in said]
        found = {said[at]: self._concept(said[at]) for at in self._wording.without_filler(said)}
        for start, end in self._wording.runs(stems):
            run = " ".join(said[start:end])
            found[run] = Concept(run, self._wording.meanings(stems[start:end]), said=False)
        for first, second in pairwise(said):
            whole = first + second
            if whole not in found and whole in self._vocabulary:
                found[whole] = Concept(whole, ((stem(whole), 1.0),), said=False)
        return tuple(found.values())

    def _read_word(self, word: str) -> Concept:
        own = stem(word)
        meant = self._wording.meanings([own])
        if meant or own in self._stems:
            return Concept(word, _merge([((own, 1.0),), meant]))
        return Concept(word, _merge([((own, 1.0),), *self._corrections(word)]))

    def _corrections(self, word: str) -> list[Terms]:
        near = self._vocabulary.nearest(word)
        if near:
            return [self._weighted(other, CORRECTED[distance]) for other, distance in near]
        halves = self._vocabulary.halves(word) or ()
        return [self._weighted(half, HALVED) for half in halves]

    def _weighted(self, word: str, weight: float) -> Terms:
        own = stem(word)
        meant = self._wording.meanings([own])
        return tuple((other, weight * share) for other, share in [(own, 1.0), *meant])


def _merge(lists: list[Terms]) -> Terms:
    best: dict[str, float] = {}
    for terms in lists:
        for term, weight in terms:
            best[term] = max(best.get(term, 0.0), weight)
    return tuple(best.items())
