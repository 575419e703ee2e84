"""Dispatch: distances against published ones, the assignment against trying all."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.incidents.dispatch import WEIGHTS, Case, Free, Speed, distance, minutes_to, propose

HERE = (31.4, -41.6)


def test_distances() -> None:
    # One degree of a great circle: pi / 180 times the mean radius of 6371.0088 km (IUGG).
    assert distance((0, 0), (0, 1)) == pytest.approx(111.195, abs=1e-3)
    assert distance((0, 0), (0, 180)) == pytest.approx(20015.1, abs=0.1)
    assert distance(HERE, HERE) == 0


def test_minutes_are_distance_times_road_factor_over_speed() -> None:
    case = Case("a", 2, 0, (0.0, 0.5))
    rover = Free("r", (0.0, 0.0), busy_minutes=10)
    expected = 10 + 111.195 / 2 * 1.3 / 40 * 60
    assert minutes_to(rover, case, Speed()) == pytest.approx(expected, abs=0.01)


def test_without_a_position_the_zone_decides() -> None:
    case = Case("a", 2, 0, None, "north")
    near, far = Free("n", None, "north"), Free("f", None, "south")
    (one,) = propose([far, near], [case])
    assert one.rover == "n"


def test_the_graver_case_is_not_left_for_a_nearer_small_one() -> None:
    rover = Free("r", (0.0, 0.0))
    near, far = Case("near", 4, 0, (0.0, 0.01)), Case("far", 1, 0, (0.0, 0.5))
    (one,) = propose([rover], [near, far])
    assert one.case == "far"


def test_of_like_cases_the_older_one_comes_first() -> None:
    rover = Free("r", (0.0, 0.0))
    old, young = Case("old", 2, 30, (0.0, 0.02)), Case("young", 2, 0, (0.0, 0.02))
    assert [one.case for one in propose([rover], [young, old])] == ["old"]


def test_nobody_or_nothing_is_no_proposal() -> None:
    assert propose([], [Case("a", 1, 0, HERE)]) == []
    assert propose([Free("r", HERE)], []) == []


points = st.tuples(st.floats(31, 32), st.floats(-42, -41))


@given(
    st.lists(st.tuples(points, st.floats(0, 60)), min_size=1, max_size=4),
    st.lists(st.tuples(points, st.sampled_from([1, 2, 3, 4])), min_size=1, max_size=4),
)
def test_no_other_assignment_has_less_weighted_time(
    rovers: list[tuple[tuple[float, float], float]], cases: list[tuple[tuple[float, float], int]]
) -> None:
    """Against all assignments, where each case can have a rover."""
    free = [Free(f"r{n}", at, busy_minutes=busy) for n, (at, busy) in enumerate(rovers)]
    waiting = [Case(f"c{n}", priority, 0, at) for n, (at, priority) in enumerate(cases)]
    if len(waiting) > len(free):
        waiting = waiting[: len(free)]
    found = propose(free, waiting)
    by_id = {case.id: case for case in waiting}
    assert len({one.rover for one in found}) == len(found) == len(waiting)
    cost = sum(WEIGHTS[by_id[one.case].priority] * one.minutes for one in found)
    least = min(
        sum(
            WEIGHTS[case.priority] * minutes_to(rover, case, Speed())
            for rover, case in zip(chosen, waiting, strict=True)
        )
        for chosen in permutations(free, len(waiting))
    )
    assert cost == pytest.approx(least, rel=1e-9)
