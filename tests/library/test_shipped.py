"""What the starter library must hold: its size, its codes, Spanish stop lines, plain language."""

from __future__ import annotations

from statistics import median

import pytest

from kb.library.article import Library
from kb.library.grade import grade
from kb.library.store import load, shipped
from kb.triage.trees import load_trees

TOPICS, CHECKLISTS, TREES = 118, 12, 32
# Flesch-Kincaid grades, by textstat.
MEDIAN, HIGHEST = 7, 9


@pytest.fixture(scope="module")
def library() -> Library:
    found, problems = load(shipped())
    assert problems == []
    return found


def test_all_topics_checklists_and_trees_are_there(library: Library) -> None:
    own = [one for one in library.articles.values() if not (one.redirect or one.translates)]
    assert sum(one.kind in {"fault", "procedure"} for one in own) >= TOPICS
    assert sum(one.kind == "checklist" for one in own) >= CHECKLISTS
    assert len(load_trees(library)) >= TREES


def test_every_text_has_a_code_of_its_own_and_a_spanish_stop_line(library: Library) -> None:
    trees = load_trees(library)
    texts = [
        one for one in library.articles.values() if not (one.redirect or one.translates)
    ] + list(trees.values())
    assert all(text.code and text.stop_es for text in texts)
    assert len({text.code for text in texts}) == len(texts)


def test_the_text_is_plain(library: Library) -> None:
    grades = [grade(one) for one in library.articles.values() if one.language == "en"]
    assert median(grades) <= MEDIAN
    assert max(grades) <= HIGHEST


def test_every_end_of_every_tree_is_reached_and_says_how_voting_goes_on(library: Library) -> None:
    for tree in load_trees(library).values():
        seen, ahead = set(), [tree.first]
        while ahead:
            step = ahead.pop()
            if step in seen:
                continue
            seen.add(step)
            own = [one for one in tree.steps[step].branches if one.target_tree == tree.slug]
            ahead += [one.target_step or tree.first for one in own]
        assert seen == set(tree.steps), tree.slug
        assert all(one.voting for one in tree.steps.values() if one.kind == "end"), tree.slug
