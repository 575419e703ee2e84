"""One state of the index: the documents in force and the tables made from them.

An edition never changes. A change of the documents makes a new one, so that a search that is
under way goes on in the old.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence

import numpy as np

from kb.search.grams import GramTable
from kb.search.meaning import MeaningTable
from kb.search.phrases import PhraseTable
from kb.search.prepared import Prepared, Preparer, joined
from kb.search.reading import Reader
from kb.search.snippet import Sentences, sentences
from kb.search.typos import Vocabulary
from kb.search.wording import Wording


class Edition:
    """Documents in a fixed order; every array of scores has one place for each."""

    def __init__(
        self,
        prepared: Sequence[Prepared],
        preparer: Preparer,
        wording: Wording,
        meaning: MeaningTable | None,
    ) -> None:
        self.documents = tuple(one.document for one in prepared)
        self.places = {document.slug: at for at, document in enumerate(self.documents)}
        self.codes = {one.code: at for at, one in enumerate(self.documents) if one.code}
        self.reports = [document.reports_as for document in self.documents]
        self.kinds = np.array([one.kind for one in self.documents], dtype=np.str_)
        self._stem_ids = preparer.stem_ids
        held = joined([one.stems for one in prepared])
        self._holders = np.bincount(held, minlength=len(preparer.stem_ids))
        self.reader = Reader(Vocabulary(_counts(prepared, preparer, wording)), wording)
        self.grams = GramTable(prepared, preparer.gram_ids)
        self.phrases = PhraseTable(prepared, preparer.stem_ids)
        self.meaning = meaning
        # One entry a document: split only when it is first shown.
        self.sentences = functools.cache(self._sentences)

    def _sentences(self, place: int) -> Sentences:
        return sentences(self.documents[place])

    def rarity(self, stem: str) -> float:
        """Inverse document frequency of a stem, as in BM25; the highest for an unknown one."""
        number = self._stem_ids.get(stem, -1)
        holders = self._holders[number] if 0 <= number < len(self._holders) else 0
        return math.log1p((len(self.documents) - holders + 0.5) / (holders + 0.5))


def _counts(prepared: Sequence[Prepared], preparer: Preparer, wording: Wording) -> dict[str, int]:
    """How often each word stands in the documents and the word lists."""
    words = joined([one.words for one in prepared])
    often = joined([one.counts for one in prepared])
    total = np.bincount(words, often, minlength=len(preparer.word_ids)).astype(int).tolist()
    counts = {word: n for word, n in zip(preparer.word_ids, total, strict=True) if n}
    for word in wording.vocabulary:
        counts[word] = counts.get(word, 0) + 1
    return counts
