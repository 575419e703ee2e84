"""A seal number as it was read against those that were delivered.

A number that is not on the list is often one that is, read or written with two digits
exchanged or one digit wrong; saying which one saves a search, and is only a question.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Reading:
    """What a number means: `listed`, or else the listed number it may have been meant for."""

    number: str
    listed: bool
    near: str | None = None
    difference: str = ""


def compare(number: str, delivered: Iterable[str]) -> Reading:
    """Hold a number against the delivered ones; capitals, spaces and dashes do not matter."""
    known = {plain(one): one for one in delivered}
    read = plain(number)
    if read in known:
        return Reading(number, listed=True)
    for one, shown in sorted(known.items()):
        if _exchanged(read, one):
            return Reading(number, listed=False, near=shown, difference="two digits are exchanged")
    for one, shown in sorted(known.items()):
        if len(read) == len(one) and _differing(read, one) == 1:
            return Reading(number, listed=False, near=shown, difference="one digit differs")
    return Reading(number, listed=False)


def plain(number: str) -> str:
    """A seal's number without what people write differently."""
    return "".join(sign for sign in number.upper() if sign.isalnum())


def _differing(one: str, other: str) -> int:
    return sum(left != right for left, right in zip(one, other, strict=True))


def _exchanged(one: str, other: str) -> bool:
    """Whether exactly two neighbours have changed places."""
    if len(one) != len(other):
        return False
    at = [place for place in range(len(one)) if one[place] != other[place]]
    return (
        len(at) == 2
        and at[1] == at[0] + 1
        and one[at[0]] == other[at[1]]
        and one[at[1]] == other[at[0]]
    )
