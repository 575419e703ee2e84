import pytest

from kb.base.errors import Problems
from kb.search.queries import Query, only_known, parse_queries


def test_lines_of_one_query_belong_together():
    text = (
        "query\tslug\tgrade\nits dead\tno-power\t2\nits dead\toutlet\t1\n"
        "\nlunch?\t-\t-\nrain\t\t-\n"
    )
    assert parse_queries(text, "q.tsv") == [
        Query("its dead", {"no-power": 2, "outlet": 1}),
        Query("lunch?", {}),
        Query("rain", {}),
    ]


def test_only_the_highest_grade_is_the_article_to_open():
    assert Query("x", {"a": 2, "b": 1, "c": 2}).best == {"a", "c"}
    assert Query("x", {"a": 0}).best == frozenset()


def test_every_fault_of_a_file_is_told_at_once():
    text = (
        "no tabs\na\tx\ttwo\nb\tx\t1\nb\tx\t2\nc\tx\t1\nc\t-\t-\nd\tx\t1\tmore\ne\tx\t-1\n\tx\t1\n"
    )
    with pytest.raises(Problems) as caught:
        parse_queries(text, "q.tsv")
    assert [one.line for one in caught.value.problems] == [1, 2, 4, 6, 7, 8, 9]
    assert "q.tsv:2 QUERIES the grade 'two'" in str(caught.value)


def test_an_empty_file_is_told():
    with pytest.raises(Problems, match="holds no query"):
        parse_queries("\n", "q.tsv")


def test_queries_without_a_known_slug_are_left_out_and_counted():
    queries = [Query("a", {"x": 2, "y": 1}), Query("b", {"y": 2}), Query("c", {})]
    kept, left_out = only_known(queries, {"x"})
    assert kept == [Query("a", {"x": 2}), Query("c", {})]
    assert left_out == 1
