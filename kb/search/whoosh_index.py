"""First signal: BM25F over the fields, by Whoosh, in memory.

Whoosh 2.7.4 keeps the postings and says what a stem is worth in each document. Its known
defects are avoided by use: no `refresh()` (it brings deleted documents back), no asynchronous or
buffered writers, segments never merged by a plain commit, and a searcher for each thread.

BM25 is that of Robertson and Zaragoza, "The Probabilistic Relevance Framework" (2009), summed
over weighted fields; a stem's rarity is counted over whole documents, as a stem that is rare
among titles only says nothing about itself.
"""

from __future__ import annotations

import math
import secrets
from collections.abc import Iterable, Mapping

from whoosh import fields, scoring
from whoosh.filedb.filestore import RamStorage
from whoosh.index import FileIndex
from whoosh.query import Or, Query, Term
from whoosh.searching import Searcher

from kb.search.reading import Concept

# Weight of each field. A title is written with care; phrases are many and of all kinds.
WEIGHTS = {"title": 3.0, "phrases": 2.0, "hear": 1.0, "do": 1.0, "rest": 1.0, "names": 0.5}
# How much a long field is held against a document: little where length is the author's diligence.
_LENGTH = {"title_B": 0.5, "phrases_B": 0.5, "names_B": 0.0}

# Memory that Whoosh may fill with postings before it sorts them on disk.
_SORTED_MB = 24

# More segments than this are merged into one: each costs every look-up a little.
_SEGMENTS = 6


class SharedRarity(scoring.BM25F):  # type: ignore[misc]  # Whoosh has no types
    """BM25F whose rarity of a stem is counted over the field `every`, the whole document."""

    def idf(self, searcher: Searcher, fieldname: str, text: str) -> float:  # noqa: ARG002
        """Rarity by Robertson and Sparck Jones, kept above zero."""
        whole = searcher.get_parent()
        holders = whole.doc_frequency("every", text)
        return math.log1p((whole.doc_count_all() - holders + 0.5) / (holders + 0.5))


class WhooshIndex:
    """The index itself. Writing is for one thread at a time; the caller sees to it."""

    def __init__(self) -> None:
        texts = {name: fields.KEYWORD(scorable=True) for name in WEIGHTS}
        schema = fields.Schema(
            slug=fields.ID(unique=True, stored=True), every=fields.KEYWORD, **texts
        )
        # Even for an index in memory Whoosh sorts on disk, in a temporary folder of this name: two
        # programs that shared it would delete each other's files.
        name = f"kb-{secrets.token_hex(8)}"
        self._index: FileIndex = RamStorage().create_index(schema, indexname=name)

    def write(self, changed: Mapping[str, Mapping[str, str]], gone: Iterable[str] = ()) -> None:
        """Replace documents, given as field → stems between blanks, and remove others."""
        writer = self._index.writer(timeout=10, limitmb=_SORTED_MB)
        try:
            for slug in gone:
                writer.delete_by_term("slug", slug)
            for slug, texts in changed.items():
                every = " ".join({stem for text in texts.values() for stem in text.split()})
                writer.update_document(slug=slug, every=every, **texts)
        except BaseException:
            writer.cancel()
            raise
        crowded = len(self._index._segments()) >= _SEGMENTS  # noqa: SLF001  # no public count
        writer.commit(merge=False, optimize=crowded)

    def searcher(self) -> Searcher:
        """Open a searcher of the present state, for one thread."""
        return self._index.searcher(weighting=SharedRarity(**_LENGTH))


def term_scores(searcher: Searcher, stem: str) -> dict[int, float]:
    """Return document number → weighted scores of one stem, summed over the fields."""
    scores: dict[int, float] = {}
    for part, offset in searcher.leaf_searchers():
        for name, weight in WEIGHTS.items():
            if (name, stem) not in part.reader():
                continue
            matcher = Term(name, stem, boost=weight).matcher(part, part.context())
            while matcher.is_active():
                number = matcher.id() + offset
                scores[number] = scores.get(number, 0.0) + matcher.score()
                matcher.next()
    return scores


def as_query(concepts: Iterable[Concept]) -> Query:
    """Return the same as one Whoosh query: the judge of what is kept between calls."""
    return Or(
        [
            Term(name, stem, boost=weight * share)
            for concept in concepts
            for stem, share in concept.terms
            for name, weight in WEIGHTS.items()
        ]
    )
