"""The index that the pages and the command line ask.

It lives in memory and is made from the articles at start: they are the truth, it is disposable.
Threads share the index and the edition; each has a searcher of its own, replaced at the first
call after a change.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Collection, Iterable, Mapping, Sequence

import numpy as np

from kb.library.words import Words
from kb.search.blend import behind, blend, circumstances, fits
from kb.search.documents import Document
from kb.search.edition import Edition
from kb.search.encoder import Vectors
from kb.search.hits import Answer, hit, weights, why
from kb.search.meaning import Meanings
from kb.search.prepared import Preparer
from kb.search.reading import LONGEST
from kb.search.signals import Array, Scorer
from kb.search.store import KeptVectors
from kb.search.text import stems
from kb.search.whoosh_index import WhooshIndex
from kb.search.wording import Wording

# What people say before a short code, in English and Spanish.
_CODE = re.compile(
    r"(?:(?:card|code|article|number|no|tarjeta|c[oó]digo|n[uú]mero)\b[.:]?\s*)?#?\s*([1-9]\d\d)",
    re.IGNORECASE,
)


class Index:
    """Finds documents by callers' words; safe for many threads.

    With `vectors` it also knows what sentences mean; without, it goes by words alone.
    """

    def __init__(
        self, documents: Iterable[Document], words: Words, vectors: KeptVectors | None = None
    ) -> None:
        self._wording = Wording(words)
        self._preparer = Preparer(words)
        self._vectors = vectors
        self._meanings = Meanings(vectors, words.elsewhere) if vectors else None
        self._writing = threading.Lock()
        self._local = threading.local()
        self._whoosh = WhooshIndex()
        self._edition = Edition((), self._preparer, self._wording, None)
        self.update(documents)

    def update(self, documents: Iterable[Document], gone: Collection[str] = ()) -> None:
        """Take in new and changed documents, and drop those whose slugs are `gone`.

        Unchanged ones may be among them: they cost nothing.
        """
        with self._writing:
            held = {one.slug: one for one in self._edition.documents if one.slug not in gone}
            changed = {one.slug: one for one in documents if held.get(one.slug) != one}
            if not changed and len(held) == len(self._edition.documents):
                return
            for slug in gone:
                self._preparer.forget(slug)
            prepared = [self._preparer.prepare(one) for one in (held | changed).values()]
            meaning = (
                self._meanings.table([one.document for one in prepared]) if self._meanings else None
            )
            edition = Edition(prepared, self._preparer, self._wording, meaning)
            fields = {slug: self._preparer.texts(one) for slug, one in changed.items()}
            self._whoosh.write({slug: _stemmed(texts) for slug, texts in fields.items()}, gone)
            self._edition = edition

    def search(
        self,
        query: str,
        *,
        limit: int = 10,
        equipment: str | None = None,
        phase: str | None = None,
        place_equipment: frozenset[str] = frozenset(),
    ) -> Answer:
        """Return the best articles for a call, each once, translations and trees under theirs.

        Equipment, phase and the place's equipment weigh; they exclude nothing. A query without a
        word, in whatever script, finds nothing and is no error.
        """
        scorer = self.scorer()
        edition = scorer.edition
        concepts = edition.reader.read(query)
        if not concepts or not edition.documents:
            return Answer(query, fits=False, hits=())
        signals = scorer.signals(concepts, self.call(query))
        scores = np.maximum(blend(signals) - behind(edition.kinds), 0)
        if equipment or phase or place_equipment:
            scores = scores * circumstances(edition.documents, equipment, phase, place_equipment)
        named = edition.codes.get(code_of(query))
        if named is not None:
            scores[named] = scores.max() + 1
        found = first(scores, limit, edition.reports)
        worth = weights(edition, concepts)
        hits = []
        for place in found:
            reason = (
                f"short code {code_of(query)}"
                if place == named
                else why(scorer, concepts, place, float(signals.phrase[place]))
            )
            hits.append(hit(scorer, place, float(scores[place]), reason, worth))
        right = named is not None or (bool(hits) and fits(scorer, concepts, signals, found[0]))
        return Answer(query, right, tuple(hits))

    def call(self, query: str) -> Vectors | None:
        """Return a call's sentence vector, or None where the index goes by words alone."""
        if self._vectors is None:
            return None
        return np.asarray(self._vectors.encoder.encode([query[:LONGEST]])[0])

    def scorer(self) -> Scorer:
        """Return this thread's scorer of the present state."""
        scorer: Scorer | None = getattr(self._local, "scorer", None)
        if scorer is None or not scorer.searcher.up_to_date():
            with self._writing:
                fresh = Scorer(self._whoosh.searcher(), self._edition)
            if scorer is not None:
                scorer.searcher.close()
            scorer = self._local.scorer = fresh
        return scorer


def code_of(query: str) -> str:
    """Return the short code that a query names and nothing else ("214", "card 214"), or ""."""
    named = _CODE.fullmatch(query.strip())
    return named.group(1) if named else ""


def first(scores: Array, limit: int, groups: Sequence[str]) -> list[int]:
    """Return the places of the best documents above zero, one a group, best first."""
    wanted = min(len(scores), 4 * limit)
    near = np.argpartition(-scores, wanted - 1)[:wanted] if wanted < len(scores) else range(wanted)
    above = [place for place in map(int, near) if scores[place] > 0]
    ranked = sorted(above, key=lambda place: (-scores[place], place))
    first: dict[str, int] = {}
    for place in ranked:
        first.setdefault(groups[place], place)
    return list(first.values())[:limit]


def _stemmed(texts: Mapping[str, str]) -> dict[str, str]:
    return {name: " ".join(stems(text)) for name, text in texts.items()}
