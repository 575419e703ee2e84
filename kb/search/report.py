"""The table that `latchbook measure` prints: this search beside SQLite's FTS5, same articles."""

from __future__ import annotations

from collections.abc import Sequence

from kb.library.words import Words
from kb.search.documents import Document
from kb.search.fts5 import Fts5
from kb.search.index import Index
from kb.search.measure import DEPTH, NAMES, Ranked, measure
from kb.search.queries import only_known, parse_queries


def report(text: str, where: str, documents: Sequence[Document], words: Words) -> str:
    """Measure both rankings on the queries of a file whose article exists.

    Raises Problems for faults of the file.
    """
    asked = parse_queries(text, where)
    queries, left_out = only_known(asked, {document.reports_as for document in documents})
    if not queries:
        return f"None of the {len(asked)} queries asks for an article of this library."
    index, peer = Index(documents, words), Fts5(documents)

    def ours(query: str) -> Ranked:
        answer = index.search(query, limit=DEPTH)
        return Ranked([hit.slug for hit in answer.hits], answer.fits)

    def theirs(query: str) -> Ranked:
        found = peer.search(query, DEPTH)
        return Ranked(found, bool(found))

    figures = {"Latchbook": measure(ours, queries), "FTS5": measure(theirs, queries)}
    lines = [
        f"{len(queries)} queries; {left_out} left out, since their article is not in the library.",
        "Mean with 95 % bootstrap interval.",
        "",
        f"{'':<10}" + "".join(f"{name:<23}" for name in figures),
        *(
            f"{name:<10}" + "".join(f"{found[name]!s:<23}" for found in figures.values())
            for name in NAMES
        ),
    ]
    return "\n".join(line.rstrip() for line in lines)
