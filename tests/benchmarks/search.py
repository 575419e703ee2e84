"""Time of a search beside SQLite FTS5 on the same generated articles, in one run.

Articles are made of the shipped library's own words as often as they occur there, each leaning on
a few words of its own; queries are made of an article's words, one in four with a typing error.
Both engines answer every query in turn and give ten slugs; the first round warms them up and is
not counted. Judge the ratios: the absolute times are the machine's.
"""

from __future__ import annotations

import json
import random
import statistics
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, dataclass

import numpy as np

from kb.library import store
from kb.library.words import Words
from kb.search.documents import Document, from_library, texts
from kb.search.fts5 import Fts5
from kb.search.index import Index
from kb.search.signals import Scorer
from kb.search.text import words
from kb.search.whoosh_index import as_query

SIZES = (200, 2000)
# Goals for a warm search, as a share of FTS5's time.
GOALS = {200: 2.0, 2000: 0.5}
_SEED = 11
_BODY = {"hear": 60, "do": 160, "rest": 280}


@dataclass(frozen=True)
class Row:
    """Medians in microseconds of one size, and whether caching changed no result."""

    documents: int
    fts5: float
    fields: float
    whole: float
    same: bool

    def __str__(self) -> str:
        told = "same top ten as uncached" if self.same else "DIFFERS FROM UNCACHED"
        return (
            f"{self.documents:>6} articles   FTS5 {self.fts5:7.0f} us   "
            f"BM25F {self.fields:7.0f} us = {self.fields / self.fts5:.2f}   "
            f"all signals {self.whole:7.0f} us = {self.whole / self.fts5:.2f}   {told}"
        )


def generated(size: int, words_used: Counter[str], chance: random.Random) -> list[Document]:
    """Make articles out of words with their counts."""
    names, counts = list(words_used), list(words_used.values())
    rare = [word for word in names if words_used[word] <= 5]

    def say(length: int, own: list[str]) -> str:
        common = chance.choices(names, counts, k=length)
        return " ".join(chance.choice(own) if chance.random() < 0.2 else word for word in common)

    made = []
    for number in range(size):
        own = chance.sample(rare, 25)
        slug = f"article-{number}"
        phrases = tuple(say(chance.randint(3, 8), own) for _ in range(20))
        body = {name: say(length, own) for name, length in _BODY.items()}
        made.append(Document(slug, slug, say(6, own), "scanner", phrases=phrases, **body))
    return made


def asked(documents: list[Document], count: int, chance: random.Random) -> list[str]:
    """Make queries of four to nine words out of the articles' phrases."""
    made = []
    for _ in range(count):
        one = chance.choice(documents)
        query = chance.sample(words(" ".join(one.phrases)), chance.randint(4, 9))
        at = chance.randrange(len(query))
        if chance.random() < 0.25 and len(query[at]) > 4:
            cut = chance.randrange(1, len(query[at]) - 1)
            query[at] = query[at][:cut] + query[at][cut + 1 :]
        made.append(" ".join(query))
    return made


def fields_only(scorer: Scorer, query: str, limit: int = 10) -> list[str]:
    """Return the top ten of the kept BM25F alone."""
    scores = scorer.by_fields(scorer.edition.reader.read(query))
    best = np.argpartition(-scores, limit)[:limit]
    ranked = best[np.argsort(-scores[best])]
    return [scorer.edition.reports[place] for place in ranked]


def same_as_uncached(scorer: Scorer, query: str, limit: int = 10) -> bool:
    """Whether Whoosh, asked afresh, gives the kept scores and no better document (ties aside)."""
    concepts = scorer.edition.reader.read(query)
    kept = scorer.by_fields(concepts)
    found = scorer.searcher.search(as_query(concepts), limit=limit, optimize=False)
    places = [scorer.edition.places[hit["slug"]] for hit in found]
    fresh = [hit.score for hit in found]
    best = np.sort(kept)[::-1][: len(fresh)]
    return np.allclose(kept[places], fresh) and np.allclose(best, fresh)


def run(size: int, vocabulary: Counter[str], word_lists: Words, queries: int, rounds: int) -> Row:
    """Measure one size."""
    chance = random.Random(_SEED)
    documents = generated(size, vocabulary, chance)
    said = asked(documents, queries, chance)
    index, peer = Index(documents, word_lists), Fts5(documents)
    scorer = index.scorer()
    same = all(same_as_uncached(scorer, query) for query in said)
    ways: dict[str, Callable[[str], object]] = {
        "fts5": peer.search,
        "fields": lambda query: fields_only(scorer, query),
        "whole": index.search,
    }
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for number in range(rounds + 1):
        for query in said:
            for name, way in ways.items():
                start = time.perf_counter()
                way(query)
                if number:
                    taken[name].append(1e6 * (time.perf_counter() - start))
    return Row(size, **{name: statistics.median(times) for name, times in taken.items()}, same=same)


def measured(sizes: tuple[int, ...] = SIZES, queries: int = 200, rounds: int = 5) -> list[Row]:
    """Measure every size with the shipped library's words."""
    library, _ = store.load(store.shipped())
    shipped = from_library(library, {})
    vocabulary = Counter(
        word for one in shipped for text in texts(one).values() for word in words(text)
    )
    return [run(size, vocabulary, library.words, queries, rounds) for size in sizes]


def main() -> int:
    """Print two lines a size, or JSON; 1 where a kept result differs from an uncached one."""
    from tests.benchmarks import meaning  # noqa: PLC0415 - it builds on this module

    rows, whole = measured(), meaning.measured()
    if "--json" in sys.argv:
        sys.stdout.write(json.dumps([asdict(row) for row in [*rows, *whole]]) + "\n")
    else:
        for row in rows:
            goal = GOALS[row.documents]
            sys.stdout.write(f"{row}   (goal by words: {goal:.1f} or less)\n")
        sys.stdout.write("".join(f"{row}\n" for row in whole))
    return int(not all(row.same for row in rows))


if __name__ == "__main__":
    sys.exit(main())
