"""The peer that search is measured against: SQLite's full-text index over the same documents.

Porter stems, its own BM25, any of the words: what one would get without this package.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

from kb.search.documents import Document, texts
from kb.search.text import words

_BEST = "select slug from found where found match ? order by rank limit ?"


class Fts5:
    """An index in memory, for one thread."""

    def __init__(self, documents: Iterable[Document]) -> None:
        self._database = sqlite3.connect(":memory:")
        self._database.execute(
            "create virtual table found using fts5"
            "(slug unindexed, title, phrases, hear, do, rest, names, tokenize = 'porter unicode61')"
        )
        rows = [(one.reports_as, *texts(one, one.equipment).values()) for one in documents]
        self._doubles = len(rows) - len({slug for slug, *_ in rows})
        self._database.executemany("insert into found values (?, ?, ?, ?, ?, ?, ?)", rows)

    def search(self, query: str, limit: int = 10) -> list[str]:
        """Return the slugs of the best documents with any word of the query, best first."""
        asked = " OR ".join(f'"{word}"' for word in dict.fromkeys(words(query)))
        if not asked:
            return []
        found = self._database.execute(_BEST, (asked, limit + self._doubles))
        return list(dict.fromkeys(slug for (slug,) in found))[:limit]
