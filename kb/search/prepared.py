"""What is worked out of a document once, however often the library around it changes.

An edit of one article must not cost a reading of all. Stems and runs of letters go by numbers
that are given once and stay, so that tables over all documents are put together from arrays.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from kb.library.words import Words
from kb.search.documents import Document, texts
from kb.search.text import stem, stems, words

Ids = NDArray[np.int32]

# A title's words count this often among the runs of letters: it is short and written with care.
_TITLE = 3
SIZES = (3, 4)


def grams(word: str) -> list[str]:
    """Return the runs of three and four letters of one word, its two edges marked by a blank."""
    edged = f" {word} "
    return [edged[at : at + size] for size in SIZES for at in range(len(edged) - size + 1)]


class Numbers(dict[str, int]):
    """Gives each new key the next number."""

    def __missing__(self, key: str) -> int:
        self[key] = number = len(self)
        return number


@dataclass(frozen=True)
class Prepared:
    """One document, taken apart.

    `words` are the numbers of its words, each once, and `counts` how often each stands in it (those
    of the title thrice); `stems` the numbers of its stems, each once. `gram_ids` and `gram_counts`
    are its runs of letters. `phrase_stems` are the stems of title and phrases, each
    once a phrase, one phrase after the other; `phrase_sizes` says how many each has.
    """

    document: Document
    words: Ids
    counts: Ids
    stems: Ids
    gram_ids: Ids
    gram_counts: NDArray[np.uint16]
    phrase_stems: Ids
    phrase_sizes: Ids


class Preparer:
    """Takes documents apart, each once; for one index, under its lock."""

    def __init__(self, words: Words) -> None:
        self.word_ids = Numbers()
        self.stem_ids = Numbers()
        self.gram_ids = Numbers()
        self._names = {one.id: " ".join((one.name, *one.other)) for one in words.equipment}
        self._done: dict[str, Prepared] = {}
        self._spelled = lru_cache(maxsize=50_000)(self._spell)

    def prepare(self, document: Document) -> Prepared:
        """Return the document taken apart, from memory where it is unchanged."""
        done = self._done.get(document.slug)
        if done is None or done.document != document:
            done = self._done[document.slug] = self._prepare(document)
        return done

    def texts(self, document: Document) -> dict[str, str]:
        """Return the text of each field of a document that is searched."""
        return texts(document, self._names.get(document.equipment, document.equipment))

    def forget(self, slug: str) -> None:
        """Let go of a document that is gone."""
        self._done.pop(slug, None)

    def _prepare(self, document: Document) -> Prepared:
        fields = self.texts(document)
        counts = Counter(word for text in fields.values() for word in words(text))
        for word in words(fields["title"]):
            counts[word] += _TITLE - 1
        phrases = [
            sorted({self.stem_ids[one] for one in stems(phrase)})
            for phrase in (document.title, *document.phrases)
        ]
        runs = joined([self._spelled(word) for word in counts])
        often = [np.full(len(self._spelled(word)), n, float) for word, n in counts.items()]
        gram_ids, places = np.unique(runs, return_inverse=True)
        return Prepared(
            document=document,
            words=_ids(self.word_ids[word] for word in counts),
            counts=_ids(counts.values()),
            stems=_ids({self.stem_ids[stem(word)] for word in counts}),
            gram_ids=gram_ids.astype(np.int32),
            gram_counts=np.bincount(places, np.concatenate(often or [_NONE])).astype(np.uint16),
            phrase_stems=_ids(one for phrase in phrases for one in phrase),
            phrase_sizes=_ids(len(phrase) for phrase in phrases),
        )

    def _spell(self, word: str) -> Ids:
        return _ids(self.gram_ids[run] for run in grams(word))


def joined(parts: Sequence[Ids]) -> Ids:
    """Return arrays end to end; an empty one for none."""
    return np.concatenate(parts) if parts else _NONE


def _ids(numbers: Iterable[int]) -> Ids:
    return np.fromiter(numbers, np.int32)


_NONE: Ids = np.array([], np.int32)
