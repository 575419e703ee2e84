from __future__ import annotations

import pytest

from kb.base.errors import Problems
from kb.library.words import Words
from kb.search.documents import Document
from kb.search.report import report

WORDS = Words((), (), {}, frozenset())
DOCUMENTS = [
    Document("lid", "lid", "Lid will not latch", "ballot-box", phrases=("the lid pops up",)),
    Document("dead", "dead", "No sign of power", "scanner", phrases=("it is dead",)),
]


def test_both_rankings_stand_side_by_side_and_what_is_left_out_is_said() -> None:
    text = "lid pops up\tlid\t2\nit is dead\tdead\t2\nline is long\tlong-line\t2\n"
    found = report(text, "q.tsv", DOCUMENTS, WORDS)
    assert found.startswith("2 queries; 1 left out")
    assert "Latchbook" in found
    assert "FTS5" in found
    assert "success@1 1.000 (1.000-1.000)" in " ".join(found.split())


def test_no_query_for_this_library() -> None:
    assert report("x\ty\t2\n", "q.tsv", DOCUMENTS, WORDS).startswith("None of the 1 queries")


def test_faults_of_the_file_are_told() -> None:
    with pytest.raises(Problems, match=r"q\.tsv:1"):
        report("only one cell\n", "q.tsv", DOCUMENTS, WORDS)
