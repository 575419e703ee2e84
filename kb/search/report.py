"""The table that `latchbook measure` prints: this search, its parts, and SQLite's FTS5.

All rank the same documents for the same queries.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from kb.library.words import Words
from kb.search.blend import BY_WORDS, Weights, blend
from kb.search.documents import Document
from kb.search.fts5 import Fts5
from kb.search.index import Index, first
from kb.search.measure import DEPTH, NAMES, Ranked, measure
from kb.search.queries import only_known, parse_queries
from kb.search.store import KeptVectors

Ranking = Callable[[str], Ranked]

_ALONE: Mapping[str, Weights] = {
    "by words alone": BY_WORDS,
    "BM25F alone": (1, 0, 0, 0),
    "vectors alone": (0, 0, 0, 1),
}


def report(
    text: str,
    where: str,
    documents: Sequence[Document],
    words: Words,
    vectors: KeptVectors | None = None,
) -> str:
    """Measure all rankings on the queries of a file whose article exists.

    Raises Problems for faults of the file.
    """
    asked = parse_queries(text, where)
    queries, left_out = only_known(asked, {document.reports_as for document in documents})
    if not queries:
        return f"None of the {len(asked)} queries asks for an article of this library."
    figures = {
        name: measure(ranking, queries)
        for name, ranking in rankings(documents, words, vectors).items()
    }
    lines = [
        f"{len(queries)} queries; {left_out} left out, since their article is not in the library.",
        "Mean with 95 % bootstrap interval.",
        "",
        f"{'':<10}" + "".join(f"{name:<22}" for name in figures),
        *(
            f"{name:<10}" + "".join(f"{found[name]!s:<22}" for found in figures.values())
            for name in NAMES
        ),
    ]
    return "\n".join(line.rstrip() for line in lines)


def rankings(
    documents: Sequence[Document], words: Words, vectors: KeptVectors | None
) -> dict[str, Ranking]:
    """Return what is compared, by name: the whole search first."""
    index, peer = Index(documents, words, vectors), Fts5(documents)

    def ours(query: str) -> Ranked:
        answer = index.search(query, limit=DEPTH)
        return Ranked([hit.slug for hit in answer.hits], answer.fits)

    def alone(weights: Weights) -> Ranking:
        return lambda query: _ranked(index, query, weights)

    def theirs(query: str) -> Ranked:
        found = peer.search(query, DEPTH)
        return Ranked(found, bool(found))

    parts = {name: alone(weights) for name, weights in _ALONE.items() if vectors or not weights[3]}
    return {"Latchbook": ours, **parts, "FTS5": theirs}


def _ranked(index: Index, query: str, weights: Weights) -> Ranked:
    scorer = index.scorer()
    concepts = scorer.edition.reader.read(query)
    if not concepts:
        return Ranked([], fits=False)
    scores = blend(scorer.signals(concepts, index.call(query)), weights)
    reports = scorer.edition.reports
    return Ranked([reports[place] for place in first(scores, DEPTH, reports)])
