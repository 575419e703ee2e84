"""A walk is replayed from its answers; every walk of every shipped tree ends in time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.base.errors import InputError
from kb.library import store
from kb.triage.parse import parse_tree
from kb.triage.tree import LONGEST_WALK, Tree
from kb.triage.trees import load_trees
from kb.triage.walk import Answer, Position, keep_fitting, replay

GOOD = Path(__file__).parent.parent / "fixtures" / "library_good"
TREES = load_trees(store.load(GOOD)[0])
SHIPPED_LIBRARY = store.load(store.shipped())[0]
SHIPPED = load_trees(SHIPPED_LIBRARY)
YES = Answer("paper-tree", "shows", "Yes")
OUT = Answer("paper-tree", "pull", "It came out")


def choices(position: Position) -> list[Answer]:
    return [Answer(position.tree, position.step.id, one.label) for one in position.step.branches]


def walks(trees: Mapping[str, Tree], start: str) -> Iterator[tuple[Answer, ...]]:
    """Every whole walk of a tree, by trying every answer: slow, plain, and nothing of graphs."""
    waiting: list[tuple[Answer, ...]] = [()]
    while waiting:
        walk = waiting.pop()
        position = replay(trees, start, walk)
        if position.ended:
            yield walk
        waiting += [(*walk, answer) for answer in choices(position)]


def test_no_answers_stand_at_the_first_step() -> None:
    position = replay(TREES, "paper-tree", [])
    assert (position.tree, position.step.id, position.left) == ("paper-tree", "shows", 2)
    assert position.path == ()
    assert not position.ended


def test_answers_lead_to_an_end_that_says_how_voting_goes_on() -> None:
    position = replay(TREES, "paper-tree", [YES, OUT])
    assert position.ended
    assert position.left == 0
    assert (position.step.outcome, position.step.voting) == ("fixed", "same-device")
    assert [(tree, step.id, label) for tree, step, label in position.path] == [YES, OUT]


def test_a_branch_goes_on_in_another_tree_and_back_into_a_step_of_the_first() -> None:
    across = Answer("paper-tree", "shows", "I can't tell")
    position = replay(TREES, "paper-tree", [across])
    assert (position.tree, position.step.id, position.left) == ("other-tree", "lit", 1)
    back = replay(TREES, "paper-tree", [across, ("other-tree", "lit", "Yes")])
    assert (back.tree, back.step.id) == ("paper-tree", "rover")


@pytest.mark.parametrize(
    ("answers", "message"),
    [
        ([("paper-tree", "shows", "Maybe")], "no answer 'Maybe'; its answers are 'Yes', 'No'"),
        ([OUT], "the walk stands at 'shows'"),
        ([("other-tree", "shows", "Yes")], "of 'other-tree'"),
        ([YES, OUT, ("paper-tree", "works", "Yes")], "none: it is an end"),
        ([YES, YES], "the walk stands at 'pull'"),
    ],
)
def test_an_answer_that_does_not_fit_is_refused(
    answers: list[tuple[str, str, str]], message: str
) -> None:
    with pytest.raises(InputError, match=message):
        replay(TREES, "paper-tree", answers)


def test_an_unknown_tree_is_refused() -> None:
    with pytest.raises(InputError, match="no tree 'nothing'"):
        replay(TREES, "nothing", [])


def test_a_tree_that_is_not_at_hand_is_told() -> None:
    alone = {"paper-tree": TREES["paper-tree"]}
    with pytest.raises(InputError, match="'other-tree', which is not at hand"):
        replay(alone, "paper-tree", [("paper-tree", "shows", "I can't tell")])


def test_a_changed_answer_drops_what_no_longer_lies_on_the_way() -> None:
    changed = Answer("paper-tree", "shows", "No")
    assert keep_fitting(TREES, "paper-tree", [YES, OUT, changed]) == (changed,)


def test_an_answer_changed_and_changed_back_loses_nothing() -> None:
    changed = Answer("paper-tree", "shows", "No")
    assert keep_fitting(TREES, "paper-tree", [YES, OUT, changed, YES]) == (YES, OUT)


def test_an_answer_that_a_step_does_not_offer_ends_what_is_kept() -> None:
    assert keep_fitting(TREES, "paper-tree", [YES, ("paper-tree", "pull", "Maybe")]) == (YES,)


def test_an_older_text_is_walked_as_it_stood() -> None:
    tree = TREES["other-tree"]
    again, problems = parse_tree(tree.text, tree.where)
    assert problems == []
    assert again == tree


def test_every_shipped_tree_may_be_walked() -> None:
    assert set(SHIPPED) == set(SHIPPED_LIBRARY.trees)
    assert SHIPPED


@pytest.mark.parametrize("slug", sorted(SHIPPED))
def test_every_end_of_a_shipped_tree_is_reached(slug: str) -> None:
    everything = {
        (position.tree, position.step.id)
        for start in SHIPPED
        for position in _positions(SHIPPED, start)
    }
    ends = {(slug, step.id) for step in SHIPPED[slug].steps.values() if step.kind == "end"}
    assert ends
    assert ends <= everything


def _positions(trees: Mapping[str, Tree], start: str) -> list[Position]:
    """One position for each step that walks from `start` come to."""
    found: dict[tuple[str, str], Position] = {}
    waiting: list[tuple[Answer, ...]] = [()]
    while waiting:
        walk = waiting.pop()
        position = replay(trees, start, walk)
        if (position.tree, position.step.id) not in found:
            found[position.tree, position.step.id] = position
            waiting += [(*walk, answer) for answer in choices(position)]
    return list(found.values())


def test_what_is_left_is_the_longest_way_that_trying_everything_finds() -> None:
    for start in TREES:
        whole = list(walks(TREES, start))
        for walk in whole:
            for length in range(len(walk) + 1):
                prefix = walk[:length]
                longest = max(len(one) for one in whole if one[:length] == prefix) - length
                assert replay(TREES, start, prefix).left == longest


@settings(deadline=None, max_examples=50)  # other work may slow this machine
@given(st.data(), st.sampled_from(sorted(SHIPPED)))
def test_any_answers_end_in_time_and_every_part_of_a_walk_replays(
    data: st.DataObject, slug: str
) -> None:
    walk: list[Answer] = []
    positions = [replay(SHIPPED, slug, walk)]
    while not positions[-1].ended:
        walk.append(data.draw(st.sampled_from(choices(positions[-1]))))
        positions.append(replay(SHIPPED, slug, walk))
    assert len(positions) <= LONGEST_WALK
    for length, position in enumerate(positions):
        assert replay(SHIPPED, slug, walk[:length]) == position
        assert len(position.path) == length
        assert position.left >= len(walk) - length
    assert all(later.left < earlier.left for earlier, later in pairwise(positions))
    assert keep_fitting(SHIPPED, slug, walk) == tuple(walk)


@settings(deadline=None, max_examples=50)  # other work may slow this machine
@given(st.data(), st.sampled_from(sorted(SHIPPED)))
def test_a_change_of_any_answer_leaves_a_walk_that_replays(data: st.DataObject, slug: str) -> None:
    walk: list[Answer] = []
    while not (position := replay(SHIPPED, slug, walk)).ended:
        walk.append(data.draw(st.sampled_from(choices(position))))
    place = data.draw(st.integers(0, len(walk) - 1))
    changed = data.draw(st.sampled_from(choices(replay(SHIPPED, slug, walk[:place]))))
    kept = keep_fitting(SHIPPED, slug, [*walk, changed])
    assert kept[: place + 1] == (*walk[:place], changed)
    assert set(kept) <= {*walk, changed}
    replay(SHIPPED, slug, kept)
