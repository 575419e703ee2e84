"""The trees that may be walked: those of a library in which nothing is at fault."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from kb.library.article import Library
from kb.library.render import page_of
from kb.library.text import NO_ANSWERS
from kb.triage.check import check_trees
from kb.triage.parse import read_trees
from kb.triage.tree import Tree


def load_trees(
    library: Library,
    url_for: Callable[[str], str] = page_of,
    answers: Mapping[str, bool] = NO_ANSWERS,
) -> dict[str, Tree]:
    """Read the trees of a library, without those that have an error.

    A tree that leads into one left out is left out too, so every walk ends.
    """
    trees, problems = read_trees(library, url_for, answers)
    while True:
        told = [*problems, *check_trees(trees, library.articles)]
        faulty = {problem.where for problem in told if not problem.warning}
        sound = {slug: tree for slug, tree in trees.items() if tree.where not in faulty}
        if len(sound) == len(trees):
            return sound
        trees = sound
