"""What comes out is what would come of writing the county's texts into the folder."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from kb.authoring.overlay import Published, apply, place
from kb.base.ids import fingerprint
from kb.library.article import Library
from kb.library.store import load
from tests.authoring.telling import CHANGED, GOOD, SHIPPED, SLUG, WHERE

RETIRED = "---\ntitle: Cord is loose\nredirect: paper-stuck\n---\n"
NEW = SHIPPED.replace("it is stuck", "it went in twice").replace("A ballot is", "Two ballots are")
TREE = (GOOD / "trees" / "other-tree.md").read_text(encoding="utf-8")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(GOOD, tmp_path / "articles"))


@pytest.fixture
def shipped(folder: Path) -> Library:
    return load(folder)[0]


def published(where: str, text: str) -> dict[str, Published]:
    slug = Path(where).stem
    return {slug: Published(slug, where, text, "")}


@pytest.mark.parametrize(
    ("where", "text"),
    [
        (WHERE, CHANGED),
        ("power/cord-loose.md", RETIRED),
        ("scanner/two-ballots.md", NEW),
        ("power/a-first-one.md", NEW.replace("equipment: scanner", "equipment: power")),
        ("trees/other-tree.md", TREE.replace("Dry hands.", "Dry, clean hands.")),
        ("trees/third-tree.md", TREE.replace("dark", "silent")),
    ],
)
def test_as_if_written_into_the_folder(
    folder: Path, shipped: Library, where: str, text: str
) -> None:
    over, problems = apply(shipped, published(where, text))
    (folder / where).write_text(text, encoding="utf-8")
    written, faults = load(folder)
    assert over == written
    assert list(over.articles) == list(written.articles)
    assert list(over.trees) == list(written.trees)
    assert problems == faults


def test_a_retired_article_leads_to_another(shipped: Library) -> None:
    over, _ = apply(shipped, published("power/cord-loose.md", RETIRED))
    assert over.article("cord-loose").slug == SLUG
    assert shipped.article("cord-loose").slug == "cord-loose"


def test_what_cannot_be_read_takes_no_article_away(shipped: Library) -> None:
    over, problems = apply(shipped, published(WHERE, "no front matter\n"))
    assert over.articles[SLUG].hash == fingerprint(SHIPPED)
    assert [one.code for one in problems] == ["LB101"]


def test_a_slug_that_is_a_tree_by_now_is_told(shipped: Library) -> None:
    over, problems = apply(shipped, published("scanner/other-tree.md", NEW))
    assert "other-tree" not in over.articles
    assert [one.code for one in problems] == ["LB115"]


def test_a_file_follows_its_equipment(shipped: Library) -> None:
    moved = SHIPPED.replace("equipment: scanner", "equipment: power")
    assert place(WHERE, moved, shipped) == "power/paper-stuck.md"
    assert place(WHERE, SHIPPED, shipped) == WHERE
    unknown = SHIPPED.replace("equipment: scanner", "equipment: ../../elsewhere")
    assert place(WHERE, unknown, shipped) == WHERE
    assert place(WHERE, "half", shipped) == WHERE
    assert place("trees/other-tree.md", TREE, shipped) == "trees/other-tree.md"
    assert place("paper-stuck.md", moved, shipped) == "paper-stuck.md"
