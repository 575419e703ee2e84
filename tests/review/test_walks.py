"""What the record says about a tree, counted by hand on a few invented walks."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.incidents.incident import Incident, Walk
from kb.library import store
from kb.review.texts.walks import TreeFigures, of_trees
from kb.triage.trees import load_trees
from tests.review.stories import Answered, case

TREES = load_trees(store.load(Path(__file__).parent.parent / "fixtures" / "library_good")[0])
SHOWS, PULL = ("paper-tree", "shows"), ("paper-tree", "pull")
FIXED: list[Answered] = [(2, *SHOWS, "Yes"), (5, *PULL, "It came out")]
STAYS: list[Answered] = [(2, *SHOWS, "Yes"), (8, *PULL, "It stays")]


def figures(*cases: Incident) -> TreeFigures:
    return of_trees(cases, lambda _: TREES)["paper-tree"]


def test_ends_are_counted_with_how_their_cases_ended() -> None:
    found = figures(
        case("a", walk=FIXED, outcome="fixed-by-phone", place="P01"),
        case("b", walk=FIXED, outcome="device-swapped", place="P02"),
        case("c", walk=STAYS, place="P02", minute=200),
    )
    assert (found.walks, found.ended, found.left, found.too_few) == (3, 3, 0, True)
    assert [(one.step.id, one.walks) for one in found.ends] == [("works", 2), ("rover", 1)]
    works, rover = found.ends
    assert works.fixed is not None
    assert (works.fixed.count, works.fixed.of) == (1, 2)
    assert rover.fixed is None


def test_medians_are_of_the_walks_that_came_to_an_end() -> None:
    across: list[Answered] = [
        (1, *SHOWS, "I can't tell"),
        (11, "other-tree", "lit", "No"),
    ]
    found = figures(
        case("a", walk=FIXED),
        case("b", walk=STAYS, place="P02"),
        case("c", walk=across, place="P02", minute=500),
        case("d", walk=[(1, *SHOWS, "No")], place="P02", minute=900),
        case("e", walk=FIXED[:1], outcome="caller-lost", place="P02", minute=1200),
    )
    # Minutes from the first answer to the last: 3, 6, 10 and 0; questions 2, 2, 2 and 1.
    assert (found.questions, found.minutes) == (2, 4.5)
    assert ("other-tree", "dark") in {(one.tree, one.step.id) for one in found.ends}


def test_no_medians_before_an_end() -> None:
    found = figures(case("a", walk=FIXED[:1]))
    assert (found.ended, found.questions, found.minutes) == (0, None, None)


def test_a_walk_is_left_where_its_case_is_over_without_an_end() -> None:
    found = figures(
        case("a", walk=FIXED[:1], outcome="device-swapped"),
        case("b", walk=FIXED[:1]),
    )
    assert found.left == 1
    assert [(one.step, one.answers, one.left) for one in found.steps] == [
        ("shows", 2, 0),
        ("pull", 0, 1),
    ]
    assert found.steps[1].unsure is None


def test_an_answer_given_anew_is_counted_where_it_was_changed() -> None:
    walk: list[Answered] = [
        (1, *SHOWS, "No"),
        (2, *SHOWS, "Yes"),
        (3, *PULL, "It stays"),
        (3.5, *PULL, "It stays"),
    ]
    found = figures(case("a", walk=walk))
    assert [(one.step, one.answers, one.changed) for one in found.steps] == [
        ("pull", 1, 0),
        ("shows", 1, 1),
    ]
    assert found.ends[0].step.id == "rover"


@pytest.mark.parametrize(
    ("unsure", "of", "too_often"), [(1, 4, False), (2, 8, True), (1, 5, False)]
)
def test_too_many_cannot_tell_only_where_there_are_enough(
    unsure: int, of: int, too_often: bool
) -> None:
    said = ["I can't tell"] * unsure + ["No"] * (of - unsure)
    found = figures(
        *(case(str(at), walk=[(1, *SHOWS, one)], minute=100 * at) for at, one in enumerate(said))
    )
    shows = found.steps[0]
    assert shows.unsure is not None
    assert (shows.unsure.count, shows.unsure.of) == (unsure, of)
    assert shows.too_often_unsure is too_often


@pytest.mark.parametrize(
    ("minute", "place", "again"),
    [(34, "P01", 1), (36, "P01", 0), (34, "P02", 0), (4, "P01", 0)],
)
def test_a_second_call_is_of_the_same_place_within_half_an_hour_of_the_end(
    minute: float, place: str, again: int
) -> None:
    # The walk ends 5 minutes after the first call.
    found = figures(case("a", walk=FIXED), case("b", place=place, minute=minute))
    assert found.again == again
    assert found.ends[0].again == again


def test_the_same_case_told_twice_is_a_second_call_but_no_walk() -> None:
    second = case("b", walk=FIXED, minute=20, outcome="duplicate")
    found = figures(case("a", walk=FIXED), second)
    assert (found.walks, found.again) == (1, 1)


def test_each_walk_is_read_over_its_own_text_and_one_whose_tree_is_gone_is_left_out() -> None:
    asked: list[Walk] = []

    def trees_of(walk: Walk) -> dict[str, object]:
        asked.append(walk)
        return {} if walk.hash == "f" * 64 else TREES

    kept, gone = case("a", walk=FIXED), case("b", walk=FIXED, hash_="f" * 64)
    found = of_trees([kept, gone], trees_of)  # type: ignore[arg-type]
    assert [walk.hash[0] for walk in asked] == ["0", "f"]
    assert found["paper-tree"].walks == 1
    assert of_trees([gone], trees_of) == {}  # type: ignore[arg-type]
