"""Folders of articles: the shipped one, a flat one, and none."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.base.errors import NotFound, StateError
from kb.library import store

GOOD = Path(__file__).parent.parent / "fixtures" / "library_good"
STUCK = (GOOD / "scanner" / "paper-stuck.md").read_text(encoding="utf-8")


def test_a_folder_is_read_whole() -> None:
    library, problems = store.load(GOOD)
    assert problems == []
    assert set(library.trees) == {"paper-tree", "other-tree"}
    assert "cord-loose" in library.articles
    assert [one.id for one in library.words.equipment] == ["scanner", "power"]
    assert "second-box" in library.rules.questions


def test_a_flat_folder_without_words_is_fine(tmp_path: Path) -> None:
    (tmp_path / "paper-stuck.md").write_text(STUCK, encoding="utf-8")
    (tmp_path / "README.md").write_text("How to write articles.", encoding="utf-8")
    (tmp_path / ".drafts").mkdir()
    (tmp_path / ".drafts" / "half.md").write_text("Half.", encoding="utf-8")
    library, problems = store.load(tmp_path)
    assert problems == []
    assert list(library.articles) == ["paper-stuck"]
    assert library.words.equipment == ()


def test_a_byte_order_mark_and_other_line_ends_are_no_fault(tmp_path: Path) -> None:
    (tmp_path / "a.md").write_bytes(b"\xef\xbb\xbf" + STUCK.replace("\n", "\r\n").encode())
    library, problems = store.load(tmp_path)
    assert problems == []
    assert library.articles["a"].phase == ("opening", "voting")


def test_a_retired_article_leads_to_its_heir() -> None:
    library, _ = store.load(GOOD)
    assert library.article("old-name").slug == "paper-stuck"


def test_an_unknown_slug_is_not_found() -> None:
    library, _ = store.load(GOOD)
    with pytest.raises(NotFound, match="no article 'nothing'"):
        library.article("nothing")


def test_redirects_in_a_circle_are_not_found(tmp_path: Path) -> None:
    (tmp_path / "a.md").write_text("---\ntitle: A\nredirect: b\n---\n", encoding="utf-8")
    (tmp_path / "b.md").write_text("---\ntitle: B\nredirect: a\n---\n", encoding="utf-8")
    library, _ = store.load(tmp_path)
    with pytest.raises(NotFound):
        library.article("a")


def test_no_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(StateError, match="no folder of articles"):
        store.load(tmp_path / "none")


def test_the_starter_library_is_found() -> None:
    assert (store.shipped() / store.WORDS).is_file()
