"""The graph of steps: circles, reach and length, on small graphs drawn by hand."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from kb.triage.graph import circles, longest, reachable


def graph(**edges: str) -> dict[tuple[str, str], list[tuple[str, str]]]:
    return {("t", name): [("t", end) for end in ends] for name, ends in edges.items()}


def test_reach_includes_the_start() -> None:
    assert reachable(graph(a="b", b="", c="a"), [("t", "a")]) == {("t", "a"), ("t", "b")}


def test_a_graph_without_circles_has_none() -> None:
    assert circles(graph(a="bc", b="c", c="")) == []


def test_every_circle_is_found_once_in_the_direction_of_walking() -> None:
    found = circles(graph(a="b", b="ca", c="d", d="c"))
    names = [[name for _, name in circle] for circle in found]
    assert sorted("".join(sorted(one)) for one in names) == ["ab", "cd"]


def test_a_step_that_leads_to_itself_is_a_circle() -> None:
    assert circles(graph(a="a")) == [[("t", "a")]]


def test_the_longest_walk_is_the_longest() -> None:
    assert longest(graph(a="bd", b="c", c="d", d=""))["t", "a"] == [("t", name) for name in "abcd"]


@settings(deadline=None, max_examples=50)  # other work may slow this machine
@given(st.integers(1, 8), st.data())
def test_edges_are_walkable_in_every_circle_that_is_told(size: int, data: st.DataObject) -> None:
    names = range(size)
    edges = {
        ("t", str(name)): [
            ("t", str(end)) for end in sorted(data.draw(st.sets(st.integers(0, size - 1))))
        ]
        for name in names
    }
    for circle in circles(edges):
        for start, end in zip(circle, [*circle[1:], circle[0]], strict=True):
            assert end in edges[start]
