"""Every numbered rule of trees is broken by a fixture of its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.library import store
from kb.triage.codes import RULES
from kb.triage.trees import load_trees
from tests.library.broken import lay, told

FIXTURES = Path(__file__).parent.parent / "fixtures"
GOOD = FIXTURES / "library_good"
BROKEN = sorted((FIXTURES / "trees_broken").iterdir())
ONLY_WARNED = {"lb414-two-facts", "lb418-no-article"}


@pytest.mark.parametrize("fixture", BROKEN, ids=lambda path: path.stem)
def test_exactly_the_faults_of_a_broken_tree_are_told(fixture: Path, tmp_path: Path) -> None:
    folder, expected = lay(fixture, GOOD, "trees", tmp_path)
    assert expected
    assert told(folder) == expected


def test_every_rule_has_a_fixture_named_after_it() -> None:
    names = {path.name[:5].upper() for path in BROKEN}
    # LB421 is of a whole library: see test_reach.
    assert {name for name in names if name >= "LB400"} | {"LB421"} == set(RULES)


@pytest.mark.parametrize("fixture", BROKEN, ids=lambda path: path.stem)
def test_a_tree_with_an_error_is_not_walked(fixture: Path, tmp_path: Path) -> None:
    folder, _ = lay(fixture, GOOD, "trees", tmp_path)
    library, _ = store.load(folder)
    walked = set(load_trees(library))
    broken = {path.stem for path in (fixture.rglob("*.md") if fixture.is_dir() else [fixture])}
    assert {"paper-tree", "other-tree"} <= walked
    assert (broken & walked) == (broken & ONLY_WARNED)


def test_a_tree_that_leads_into_a_broken_one_is_not_walked_either(tmp_path: Path) -> None:
    broken = FIXTURES / "trees_broken" / "lb404-no-minutes.md"
    folder, _ = lay(broken, GOOD, "trees", tmp_path)
    other = folder / "trees" / "other-tree.md"
    other.write_text(other.read_text().replace("(#dark)", "(lb404-no-minutes.md)"))
    library, _ = store.load(folder)
    assert load_trees(library) == {}
