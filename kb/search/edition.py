"""One state of the index: the documents in force and the tables made from them.

An edition never changes. A change of the documents makes a new one, so that a search that is
under way goes on in the old.
"""

from __future__ import annotations

import functools
import math
from collections import Counter
from collections.abc import Iterable

from kb.library.words import Words
from kb.search.documents import Document, texts
from kb.search.grams import GramTable
from kb.search.meaning import MeaningTable
from kb.search.phrases import PhraseTable
from kb.search.reading import Reader
from kb.search.snippet import Sentences, sentences
from kb.search.store import KeptVectors
from kb.search.text import stem, words
from kb.search.typos import Vocabulary
from kb.search.wording import Wording

# A title's words count this often among the runs of letters: it is short and written with care.
_TITLE = 3


class Edition:
    """Documents in a fixed order; every array of scores has one place for each."""

    def __init__(
        self, documents: Iterable[Document], words: Words, vectors: KeptVectors | None = None
    ) -> None:
        self.documents = tuple(documents)
        self.places = {document.slug: at for at, document in enumerate(self.documents)}
        self.codes = {one.code: at for at, one in enumerate(self.documents) if one.code}
        self.reports = [document.reports_as for document in self.documents]
        names = {one.id: " ".join((one.name, *one.other)) for one in words.equipment}
        self.texts = [texts(one, names.get(one.equipment, one.equipment)) for one in self.documents]
        said = [_count(fields) for fields in self.texts]
        self._holders = Counter(one for each in said for one in {stem(word) for word in each})
        wording = Wording(words)
        counts = Counter(wording.vocabulary)
        for each in said:
            counts.update(each)
        self.reader = Reader(Vocabulary(counts), wording)
        self.grams = GramTable(said)
        groups = [(one.title, *one.phrases) for one in self.documents]
        self.phrases = PhraseTable(groups)
        self.meaning: MeaningTable | None = None
        if vectors is not None and groups:
            rows = vectors.encode([phrase for group in groups for phrase in group])
            self.meaning = MeaningTable(rows, [len(group) for group in groups])
        # One entry a document: split only when it is first shown.
        self.sentences = functools.cache(self._sentences)

    def _sentences(self, place: int) -> Sentences:
        return sentences(self.documents[place])

    def rarity(self, stem: str) -> float:
        """Inverse document frequency of a stem, as in BM25; the highest for an unknown one."""
        holders = self._holders[stem]
        return math.log1p((len(self.documents) - holders + 0.5) / (holders + 0.5))


def _count(fields: dict[str, str]) -> Counter[str]:
    counts = Counter(word for text in fields.values() for word in words(text))
    for word in words(fields["title"]):
        counts[word] += _TITLE - 1
    return counts
