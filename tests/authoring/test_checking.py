"""A draft is held to the rules of `latchbook check`, in the company of the whole library."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from kb.authoring.checking import check_draft
from kb.authoring.overlay import Published
from kb.authoring.skeleton import article, tree
from kb.library.article import SECTIONS, Library
from kb.library.store import load
from kb.triage.check import check_all
from tests.authoring.telling import CHANGED, GOOD, SHIPPED, SLUG, WHERE
from tests.library.broken import TODAY as LATER
from tests.library.broken import lay, told

TODAY = date(2026, 11, 20)
TREE = (GOOD / "trees" / "paper-tree.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def library() -> Library:
    return load(GOOD)[0]


def published(text: str, where: str = WHERE, slug: str = SLUG) -> Published:
    return Published(slug, where, text, "")


def test_the_fixture_is_without_fault(library: Library) -> None:
    assert check_all(library, TODAY) == []
    assert check_draft(library, published(CHANGED), TODAY).own == ()


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("equipment: scanner", "equipment: scaner", "LB108"),
        ("- jam at the front", "- it is stuck", "LB110"),
        ("(../power/cord-loose.md)", "(../power/no-such.md)", "LB206"),
        ("## Cautions", "## Caution", "LB201"),
        ("stop: Nobody", "stopp: Nobody", "LB104"),
    ],
)
def test_faults_stand_at_their_line(library, old, new, code) -> None:
    line = SHIPPED[: SHIPPED.index(old)].count("\n") + 1
    found = check_draft(library, published(SHIPPED.replace(old, new)), TODAY)
    assert (code, line) in [(one.code, one.line) for one in found.own]
    assert found.errors
    assert not any(str(GOOD) in f"{one.where}{one.message}" for one in found.own)


def test_a_phrase_of_another_article_is_told(library: Library) -> None:
    phrase = library.articles["cord-loose"].phrases[0]
    text = SHIPPED.replace("jam at the front", phrase)
    found = check_draft(library, published(text), TODAY)
    assert "LB111" in {one.code for one in found.own}
    assert "power/cord-loose.md too" in " ".join(one.message for one in found.own)


def test_what_a_draft_breaks_in_other_files_is_told(library: Library) -> None:
    assert "paper-tree.md#rover" in library.trees["other-tree"].text
    text = TREE.replace("{#rover ", "{#send ").replace("(#rover)", "(#send)")
    found = check_draft(library, published(text, "trees/paper-tree.md", "paper-tree"), TODAY)
    assert found.own == ()
    assert [(one.where, one.code) for one in found.elsewhere] == [("trees/other-tree.md", "LB407")]
    assert found.errors == list(found.elsewhere)


@pytest.mark.parametrize("kind", SECTIONS)
def test_a_new_article_begins_with_the_fields_and_headings_of_its_kind(
    library: Library, kind: str
) -> None:
    text = article(kind, "A title: with a colon", "scanner", TODAY)
    found = check_draft(library, published(text, "scanner/new-one.md", "new-one"), TODAY)
    shape = {"LB101", "LB102", "LB103", "LB104", "LB106", "LB107", "LB108", "LB201", "LB202"}
    assert shape.isdisjoint(one.code for one in found.own), found.own


def test_a_new_tree_can_be_walked_once_its_fields_are_filled_in(library: Library) -> None:
    found = check_draft(
        library,
        published(tree("It hums", "scanner", TODAY), "trees/it-hums.md", "it-hums"),
        TODAY,
    )
    assert {one.code for one in found.own} <= {"LB105", "LB417", "LB418"}, found.own


BROKEN = [
    path
    for kind in ("articles_broken", "trees_broken")
    for path in sorted((GOOD.parent / kind).glob("*.md"))
    if path.stem.islower() and not path.stem.startswith("lb100")
]


@pytest.mark.parametrize("fixture", BROKEN, ids=lambda path: path.stem)
def test_a_draft_is_told_what_the_whole_check_tells_of_the_same_file(
    library: Library, tmp_path: Path, fixture: Path
) -> None:
    room = "trees" if fixture.parent.name == "trees_broken" else "scanner"
    folder, _ = lay(fixture, GOOD, room, tmp_path)
    where = f"{room}/{fixture.name}"
    text = fixture.read_text(encoding="utf-8")
    found = check_draft(library, Published(fixture.stem, where, text, ""), LATER)
    expected = {one for one in told(folder) if one[0] == where}
    assert {(one.where, one.line, one.code) for one in found.own} == expected
    assert expected
