"""Lines and words that differ; a comparison must give back both texts."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from kb.authoring.differences import Line, Piece, differences
from tests.authoring.telling import CHANGED, SHIPPED

LINES = st.lists(st.text(alphabet="ab c.", max_size=6), max_size=12).map("\n".join)


def test_a_changed_line_has_its_new_words_marked() -> None:
    gone, new = (line for line in differences(SHIPPED, CHANGED) if line.kind in {"gone", "new"})
    assert gone.old == new.new == SHIPPED.splitlines().index("- No force.") + 1
    assert "".join(piece.text for piece in gone.pieces) == "- No force."
    marked = "".join(piece.text for piece in new.pieces if piece.marked)
    assert marked == ", and no tools"
    assert not any(piece.marked for piece in gone.pieces)


def test_far_lines_are_left_out_and_counted() -> None:
    lines = differences(SHIPPED, CHANGED, around=1)
    assert [line.kind for line in lines] == ["left-out", "same", "gone", "new", "same", "left-out"]
    assert sum(line.count for line in lines) + 3 == len(SHIPPED.splitlines())


def test_lines_that_are_not_alike_are_shown_whole() -> None:
    assert differences("one two three\n", "quite another matter\n") == [
        Line("gone", old=1, pieces=(Piece("one two three"),)),
        Line("new", new=1, pieces=(Piece("quite another matter"),)),
    ]


def test_equal_texts_have_none() -> None:
    assert differences(SHIPPED, SHIPPED) == []


@given(LINES, LINES)
def test_both_texts_can_be_read_from_it(old: str, new: str) -> None:
    lines = differences(old, new, around=100)
    if not lines:
        assert old.splitlines() == new.splitlines()
        return
    for text, kind, number in ((old, "gone", "old"), (new, "new", "new")):
        side = [line for line in lines if line.kind in {"same", kind}]
        assert ["".join(p.text for p in line.pieces) for line in side] == text.splitlines()
        assert [getattr(line, number) for line in side] == list(range(1, len(side) + 1))
