"""Every numbered rule of articles, words and local rules is broken by a fixture of its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.library.codes import RULES, WARNINGS
from tests.library.broken import lay, told

FIXTURES = Path(__file__).parent.parent / "fixtures"
GOOD = FIXTURES / "library_good"
BROKEN = sorted((FIXTURES / "articles_broken").iterdir())


def test_a_library_without_a_fault_is_told_nothing() -> None:
    assert told(GOOD) == []


@pytest.mark.parametrize("fixture", BROKEN, ids=lambda path: path.stem)
def test_exactly_the_faults_of_a_broken_file_are_told(fixture: Path, tmp_path: Path) -> None:
    folder, expected = lay(fixture, GOOD, "scanner", tmp_path)
    assert expected
    assert told(folder) == expected


def test_every_rule_has_a_fixture_named_after_it() -> None:
    assert {path.name[:5].upper() for path in BROKEN} == set(RULES)


def test_warnings_are_rules() -> None:
    assert set(RULES) >= WARNINGS
