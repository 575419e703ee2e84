"""LB421: an article that neither a tree nor its own title leads to."""

from __future__ import annotations

import shutil
from pathlib import Path

from kb.library import store
from kb.triage.reach import SEEN, check_reach
from kb.triage.trees import load_trees

GOOD = Path(__file__).parent.parent / "fixtures" / "library_good"


def copies(tmp_path: Path, count: int, tree: str = "") -> list[tuple[str, str]]:
    """A library in which `count` articles have one title; what is told of it."""
    library = tmp_path / "library"
    shutil.copytree(GOOD, library)
    text = (
        (GOOD / "power" / "cord-loose.md")
        .read_text(encoding="utf-8")
        .replace("tree: other-tree\n", "")
    )
    for number in range(count):
        copy = text.replace("code: 101\n", tree)
        (library / "power" / f"copy-{number}.md").write_text(copy, encoding="utf-8")
    shelf, _ = store.load(library)
    return [(Path(one.where).stem, one.code) for one in check_reach(shelf, load_trees(shelf))]


def test_every_article_of_a_good_library_is_reached(tmp_path: Path) -> None:
    assert copies(tmp_path, 0) == []


def test_of_many_articles_with_one_title_some_are_told(tmp_path: Path) -> None:
    told = copies(tmp_path, SEEN + 1)
    assert told
    assert {code for _, code in told} == {"LB421"}


def test_a_tree_reaches_an_article_that_its_title_does_not(tmp_path: Path) -> None:
    assert [slug for slug, _ in copies(tmp_path, SEEN + 2, "tree: other-tree\n")] == []
