"""Two authors' changes to one text put together, line by line.

Where all three texts agree they are in step; between two such places, a side that left the
base as it was gives way to the other (Khanna, Kunal and Pierce, "A formal investigation of
diff3", FSTTCS 2007). What both changed differently is a conflict, and both sides stand in the
merged text between marks.

No library is used here: the one that is kept up is under a licence (GPL) that would bind the
whole program.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

THEIRS, BETWEEN, YOURS = "<<<<<<< in force", "=======", ">>>>>>> yours"
_MARKS = (THEIRS, BETWEEN, YOURS)


@dataclass(frozen=True)
class Merge:
    """The text put together, and how many places in it both sides changed differently."""

    text: str
    conflicts: int


@dataclass(frozen=True)
class _Chunk:
    base: Sequence[str]
    theirs: Sequence[str]
    yours: Sequence[str]


def merge(base: str, theirs: str, yours: str) -> Merge:
    """Put the changes from base to theirs and from base to yours into one text."""
    lines: list[str] = []
    conflicts = 0
    for chunk in _chunks(base.splitlines(), theirs.splitlines(), yours.splitlines()):
        if chunk.theirs in (chunk.base, chunk.yours):
            lines += chunk.yours
        elif chunk.yours == chunk.base:
            lines += chunk.theirs
        else:
            conflicts += 1
            lines += [THEIRS, *chunk.theirs, BETWEEN, *chunk.yours, YOURS]
    return Merge("".join(f"{line}\n" for line in lines), conflicts)


def is_unmerged(text: str) -> bool:
    """Whether a text still holds marks of a conflict."""
    return any(line in _MARKS for line in text.splitlines())


def _chunks(base: list[str], theirs: list[str], yours: list[str]) -> Iterator[_Chunk]:
    """Cut the three texts at the same places: in step, apart, in step, apart ..."""
    at = (0, 0, 0)
    for start, other, own, length in [
        *_in_step(base, theirs, yours),
        (len(base), len(theirs), len(yours), 0),
    ]:
        yield _Chunk(base[at[0] : start], theirs[at[1] : other], yours[at[2] : own])
        same = base[start : start + length]
        yield _Chunk(same, same, same)
        at = (start + length, other + length, own + length)


def _in_step(
    base: list[str], theirs: list[str], yours: list[str]
) -> Iterator[tuple[int, int, int, int]]:
    """Runs of lines that all three have: where in each they begin, and how many lines."""
    left = SequenceMatcher(None, base, theirs, autojunk=False).get_matching_blocks()
    right = SequenceMatcher(None, base, yours, autojunk=False).get_matching_blocks()
    one = other = 0
    while one < len(left) and other < len(right):
        a, b = left[one], right[other]
        start, end = max(a.a, b.a), min(a.a + a.size, b.a + b.size)
        if start < end:
            yield start, a.b + start - a.a, b.b + start - b.a, end - start
        if a.a + a.size < b.a + b.size:
            one += 1
        else:
            other += 1
