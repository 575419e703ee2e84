"""How well the shipped library is found, on calls written from the articles' titles alone.

The calls are ours and invented; whoever wrote them had seen no article. They hold the engine to
what it reached, with room for chance: they do not replace a measurement on calls of the field.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.library.store import load, shipped
from kb.search.measure import measure
from kb.search.queries import Query, parse_queries
from kb.search.report import Ranking, rankings
from kb.search.store import kept_for
from kb.triage.documents import documents
from kb.triage.trees import load_trees

CALLS = Path(__file__).parent.parent / "fixtures" / "search"

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def ways() -> dict[str, Ranking]:
    library, _ = load(shipped())
    vectors = kept_for(shipped())
    assert vectors is not None
    return rankings(documents(library, load_trees(library), {}), library.words, vectors)


def calls(name: str) -> list[Query]:
    return parse_queries((CALLS / name).read_text(encoding="utf-8"), name)


@pytest.mark.parametrize("name", ["calls_tuning.tsv", "queries_es.tsv"])
def test_the_right_article_is_found_and_all_parts_together_beat_each(
    ways: dict[str, Ranking], name: str
) -> None:
    found = {way: measure(ranking, calls(name)) for way, ranking in ways.items()}
    ours = found["Latchbook"]
    assert ours["success@1"].value >= 0.75
    assert ours["success@3"].value >= 0.90
    assert ours["nDCG@10"].value >= 0.82
    for way, figures in found.items():
        assert way == "Latchbook" or figures["nDCG@10"].value < ours["nDCG@10"].value


def test_calls_on_other_matters_are_said_to_fit_nothing(ways: dict[str, Ranking]) -> None:
    asked = calls("out_of_scope.tsv")
    assert len(asked) == 10
    assert sum(not ways["Latchbook"](query.text).fits for query in asked) >= 8


def test_calls_that_an_article_answers_are_seldom_doubted(ways: dict[str, Ranking]) -> None:
    asked = calls("calls_tuning.tsv") + calls("queries_es.tsv")
    assert sum(not ways["Latchbook"](query.text).fits for query in asked) <= 0.03 * len(asked)
