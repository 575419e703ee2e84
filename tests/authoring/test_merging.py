"""Merges of two authors' changes, with `git merge-file` as the outside judge."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from random import Random

import pytest

from kb.authoring.merging import BETWEEN, THEIRS, YOURS, is_unmerged, merge
from tests.authoring.telling import CHANGED, OTHER, SHIPPED


def text(*lines: str) -> str:
    return "".join(f"{line}\n" for line in lines)


def test_changes_in_different_places_are_both_in() -> None:
    found = merge(SHIPPED, CHANGED, OTHER)
    assert found.conflicts == 0
    assert "No force, and no tools." in found.text
    assert '"It is stuck fast."' in found.text
    assert found.text == merge(SHIPPED, OTHER, CHANGED).text


def test_a_place_changed_twice_holds_both_between_marks() -> None:
    found = merge(text("a", "b", "c"), text("a", "x", "c"), text("a", "y", "c"))
    assert found.conflicts == 1
    assert found.text == text("a", THEIRS, "x", BETWEEN, "y", YOURS, "c")
    assert is_unmerged(found.text)
    assert not is_unmerged(CHANGED)


def test_the_same_change_on_both_sides_is_no_conflict() -> None:
    assert merge(SHIPPED, CHANGED, CHANGED) == merge(SHIPPED, CHANGED, SHIPPED)


def edited(random: Random, lines: list[str], name: str) -> list[str]:
    """Delete, change or add a few lines; each new line is unlike all others."""
    out: list[str] = []
    for number, line in enumerate(lines):
        chance = random.random()
        if chance < 0.06:
            continue
        out.append(f"{name} {number} instead" if chance < 0.14 else line)
        if chance > 0.94:
            out.append(f"{name} {number} more")
    return out


@pytest.mark.skipif(shutil.which("git") is None, reason="git is the judge here")
def test_clean_where_git_merges_cleanly_and_with_the_same_text(tmp_path: Path) -> None:
    clean = torn = 0
    for seed in range(40):
        random = Random(seed)
        base = [f"line {number}" for number in range(24)]
        sides = (base, edited(random, base, "theirs"), edited(random, base, "yours"))
        for name, lines in zip(("base", "theirs", "yours"), sides, strict=True):
            (tmp_path / name).write_text(text(*lines), encoding="utf-8")
        judged = subprocess.run(
            ["git", "merge-file", "-p", "yours", "base", "theirs"],
            cwd=tmp_path, capture_output=True, text=True, check=False,
        )  # fmt: skip
        found = merge(*(text(*lines) for lines in sides))
        assert (found.conflicts == 0) == (judged.returncode == 0), seed
        if found.conflicts == 0:
            assert found.text == judged.stdout, seed
        clean += not found.conflicts
        torn += bool(found.conflicts)
    assert min(clean, torn) >= 5
