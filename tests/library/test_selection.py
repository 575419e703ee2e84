"""Choosing what to print."""

from __future__ import annotations

import pytest

from kb.base.errors import InputError
from kb.library.selection import Choice, parse_codes


def test_codes_are_single_numbers_and_ranges() -> None:
    assert parse_codes("101-140, 214;301 – 302") == ((101, 140), (214, 214), (301, 302))
    assert parse_codes(" ,, ") == ()


@pytest.mark.parametrize("text", ["jam", "12", "1014", "140-101", "101-"])
def test_what_is_no_code_is_told_by_its_words(text: str) -> None:
    with pytest.raises(InputError, match=text):
        parse_codes(f"101, {text}")


def test_each_field_narrows_the_choice() -> None:
    one = ("214", "ballot-box", ("voting",), "fault")
    assert Choice().holds(*one)
    assert Choice(codes=((201, 214),), kinds=frozenset({"fault"}), phase="voting").holds(*one)
    assert not Choice(codes=((215, 299),)).holds(*one)
    assert not Choice(equipment="scanner").holds(*one)
    assert not Choice(phase="closing").holds(*one)
    assert not Choice(kinds=frozenset({"tree"})).holds(*one)


def test_a_text_without_a_code_is_in_no_range() -> None:
    assert not Choice(codes=((101, 999),)).holds("", "scanner", ("voting",), "fault")
