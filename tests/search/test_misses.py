"""A wrong article may come first; its first step must then do no harm.

`judged_misses.tsv` holds pairs of the true fault and the article that came, or could come, first,
read by its first step alone: would it be unsafe for the true fault? Two readings, each without
sight of the other, against the standing rules of the library; there is no published list. What
one of the two finds unsafe counts as unsafe.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.library.store import load, shipped
from kb.search.index import Index
from kb.search.queries import parse_queries
from kb.search.store import kept_for
from kb.triage.documents import documents
from kb.triage.trees import load_trees

HERE = Path(__file__).parent.parent / "fixtures" / "search"
ROWS = [line.split("\t") for line in (HERE / "judged_misses.tsv").read_text().splitlines()[1:]]


def test_every_judged_pair_names_two_articles() -> None:
    library, _ = load(shipped())
    assert {slug for row in ROWS for slug in row[:2]} <= set(library.articles)
    assert {verdict for row in ROWS for verdict in row[2:]} == {"safe", "unsafe"}
    assert {len(row) for row in ROWS} == {4}
    assert len({tuple(row[:2]) for row in ROWS}) == len(ROWS)


@pytest.mark.slow
def test_no_call_is_led_to_an_article_whose_first_step_would_harm() -> None:
    library, _ = load(shipped())
    index = Index(documents(library, load_trees(library), {}), library.words, kept_for(shipped()))
    unsafe = {(row[0], row[1]) for row in ROWS if "unsafe" in row[2:]}
    harmful = []
    for name in ("calls_tuning.tsv", "queries_es.tsv"):
        for query in parse_queries((HERE / name).read_text(encoding="utf-8"), name):
            first = index.search(query.text, limit=1).hits[0].slug
            harmful += [(query.text, first) for true in query.best if (true, first) in unsafe]
    assert harmful == []
