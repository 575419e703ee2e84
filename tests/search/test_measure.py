import math
import random
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest
import pytrec_eval

from kb.search.measure import (
    NAMES,
    Ranked,
    exponential,
    measure,
    ndcg,
    reciprocal_rank,
    scores,
    success,
)
from kb.search.queries import Query

TREC = Path(__file__).parent.parent / "fixtures" / "trec"


def published_run():
    """The judgements and rankings of trec_eval's own test (ties by document, descending)."""
    grades, scored = defaultdict(dict), defaultdict(list)
    for line in (TREC / "qrels.test").read_text().splitlines():
        topic, _, document, grade = line.split()
        grades[topic][document] = int(grade)
    for line in (TREC / "results.test").read_text().splitlines():
        topic, _, document, _, score, *_ = line.split()
        scored[topic].append((float(score), document))
    return grades, {
        topic: [d for _, d in sorted(run, reverse=True)] for topic, run in scored.items()
    }


@pytest.mark.parametrize(
    ("name", "one"),
    [
        ("ndcg_cut_5", lambda run, grades, _: ndcg(run, grades, 5, float)),
        ("ndcg_cut_10", lambda run, grades, _: ndcg(run, grades, 10, float)),
        ("recip_rank", lambda run, _, right: reciprocal_rank(run, right, 1000)),
        ("success_1", lambda run, _, right: success(run, right, 1)),
        ("success_5", lambda run, _, right: success(run, right, 5)),
        ("success_10", lambda run, _, right: success(run, right, 10)),
    ],
)
def test_figures_are_those_that_trec_eval_publishes(name, one):
    # Source: usnistgov/trec_eval, test/out.test.a (fixtures/trec/SOURCE.md); trec_eval's gain is
    # the grade itself.
    lines = (line.split() for line in (TREC / "out.test.a").read_text().splitlines())
    published = {measure: value for measure, _, value in lines}
    grades, runs = published_run()
    found = [
        one(run, grades[topic], {d for d, grade in grades[topic].items() if grade > 0})
        for topic, run in runs.items()
    ]
    assert f"{np.mean(found):.4f}" == published[name]


def test_graded_ndcg_is_that_of_pytrec_eval():
    chance = random.Random(2)
    names = [f"d{number:02}" for number in range(30)]
    for _ in range(25):
        grades = {name: chance.randint(0, 3) for name in chance.sample(names, 12)}
        run = chance.sample(names, chance.randint(1, 30))
        judge = pytrec_eval.RelevanceEvaluator(
            {"q": {name: int(exponential(grade)) for name, grade in grades.items()}},
            {"ndcg_cut.10"},
        )
        theirs = judge.evaluate({"q": {name: float(-rank) for rank, name in enumerate(run)}})
        assert ndcg(run, grades) == pytest.approx(theirs["q"]["ndcg_cut_10"])


def test_a_helpful_article_on_top_is_no_success():
    query = Query("x", {"open": 2, "help": 1})
    gain, first, third, fifth, rank = scores(Ranked(["help", "open"]), query)
    assert (first, third, fifth, rank) == (0, 1, 1, 0.5)
    assert gain == pytest.approx((1 + 3 / math.log2(3)) / (3 + 1 / math.log2(3)))


@pytest.mark.parametrize(("fits", "value"), [(False, 1.0), (True, 0.0)])
def test_where_nothing_fits_saying_so_is_right(fits, value):
    assert scores(Ranked(["a"], fits), Query("x", {})) == [value] * len(NAMES)


def test_intervals_hold_the_mean_and_come_out_the_same_again():
    queries = [Query(str(number), {"a": 1}) for number in range(40)]

    def ranking(text):
        return Ranked(["a"] if int(text) % 4 else ["b"])

    figure = measure(ranking, queries)["success@1"]
    assert figure.value == 0.75
    # Binomial standard error sqrt(.75 * .25 / 40) = .068, so about .75 +- .134.
    assert figure.low == pytest.approx(0.616, abs=0.03)
    assert figure.high == pytest.approx(0.884, abs=0.03)
    assert measure(ranking, queries)["success@1"] == figure
    assert str(figure).startswith("0.750 (")


def test_the_depth_is_ten():
    query = Query("x", {"a": 1})
    assert scores(Ranked([*"bcdefghijk", "a"]), query) == [0.0] * 5
