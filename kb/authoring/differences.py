"""What differs between two texts, line by line and word by word, as data for a page."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import zip_longest

# A word or sign with the space before it.
_WORDS = re.compile(r"\s*(?:\w+|[^\w\s])|\s+")
# Below this share of common words two lines are shown whole: word marks would only confuse.
_ALIKE = 0.4


@dataclass(frozen=True)
class Piece:
    """A run of words of a line; `marked` where the other line has not the same."""

    text: str
    marked: bool = False


@dataclass(frozen=True)
class Line:
    """A line of the comparison; `kind` is "same", "gone", "new" or "left-out".

    `old` and `new` are its numbers in the two texts, None where it is not in that text. A line
    "left-out" stands for the `count` unchanged lines that are not shown.
    """

    kind: str
    old: int | None = None
    new: int | None = None
    pieces: tuple[Piece, ...] = ()
    count: int = 0


def differences(old: str, new: str, around: int = 3) -> list[Line]:
    """Compare two texts; unchanged lines are shown only `around` a change. Empty if equal."""
    before, after = old.splitlines(), new.splitlines()
    matcher = SequenceMatcher(None, before, after, autojunk=False)
    lines: list[Line] = []
    shown = 0
    for group in matcher.get_grouped_opcodes(around):
        start = group[0][1]
        lines += _left_out(start - shown)
        for tag, i1, i2, j1, j2 in group:
            if tag == "equal":
                lines += (
                    Line("same", i + 1, j + 1, (Piece(before[i]),))
                    for i, j in zip(range(i1, i2), range(j1, j2), strict=True)
                )
            else:
                lines += _changed(before[i1:i2], after[j1:j2], i1 + 1, j1 + 1)
        shown = group[-1][2]
    return lines + _left_out(len(before) - shown) if lines else []


def _left_out(count: int) -> list[Line]:
    return [Line("left-out", count=count)] if count > 0 else []


def _changed(gone: Sequence[str], new: Sequence[str], first: int, second: int) -> Iterator[Line]:
    """Lines that went, then those that came; a pair that is much alike gets its words marked."""
    pairs = [_words(one, other) for one, other in zip_longest(gone, new)]
    for index, (pieces, _) in enumerate(pairs[: len(gone)]):
        yield Line("gone", old=first + index, pieces=pieces)
    for index, (_, pieces) in enumerate(pairs[: len(new)]):
        yield Line("new", new=second + index, pieces=pieces)


def _words(old: str | None, new: str | None) -> tuple[tuple[Piece, ...], tuple[Piece, ...]]:
    if old is None or new is None:
        return (Piece(old or ""),), (Piece(new or ""),)
    before, after = _WORDS.findall(old), _WORDS.findall(new)
    matcher = SequenceMatcher(None, before, after, autojunk=False)
    if matcher.ratio() < _ALIKE:
        return (Piece(old),), (Piece(new),)
    codes = matcher.get_opcodes()
    return (
        tuple(Piece("".join(before[i:j]), tag != "equal") for tag, i, j, _, _ in codes if j > i),
        tuple(Piece("".join(after[i:j]), tag != "equal") for tag, _, _, i, j in codes if j > i),
    )
