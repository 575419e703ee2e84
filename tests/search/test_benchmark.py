"""A small sample of the benchmark: that it runs, and that keeping scores changes no result."""

from collections import Counter

from tests.benchmarks.search import run

from .conftest import WORDS


def test_kept_scores_give_the_top_ten_of_uncached_ones():
    vocabulary = Counter(
        {
            f"{head}{tail}": n
            for n, head in enumerate("bdfgklmnprst", 1)
            for tail in ("aller", "ocket", "indow", "amper", "elter")
        }
    )
    row = run(30, vocabulary, WORDS, queries=25, rounds=1)
    assert row.same
    assert min(row.fts5, row.fields, row.whole) > 0
