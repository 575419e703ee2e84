"""Finding a place while the caller still talks: by name, id, precinct, asset or phone.

Every word typed has to be found somewhere in the place's line; the nearer to how its name or
number begins, the higher it stands.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from kb.incidents.places import Place

# A number of fewer digits is a house number or part of a name, not a telephone.
FEWEST_PHONE_DIGITS = 4


def digits(text: str) -> str:
    """Only the digits of a telephone number, as people type and write it in many ways."""
    return re.sub(r"[^0-9]", "", text)


def haystack(body: Mapping[str, object]) -> str:
    """The line in which words are looked for: id, name, address, precincts, in small letters."""
    precincts = body.get("precincts")
    parts = [body.get("place"), body.get("name"), body.get("address")]
    parts += precincts if isinstance(precincts, list) else []
    return " ".join(str(part) for part in parts if part).casefold()


def words_of(text: str) -> list[str]:
    """The words typed, in small letters."""
    return text.casefold().split()


def phone_of(text: str) -> str | None:
    """The digits, where what was typed is a telephone number or the end of one."""
    number = digits(text)
    plain = re.fullmatch(r"[0-9+() ./-]+", text.strip())
    return number if plain and len(number) >= FEWEST_PHONE_DIGITS else None


def rank(place: Place, text: str) -> tuple[int, str, str]:
    """How near a place is to what was typed, nearest first; ties by name."""
    typed, name = text.casefold().strip(), place.name.casefold()
    if typed == place.place.casefold() or typed == name:
        grade = 0
    elif typed in {precinct.casefold() for precinct in place.precincts}:
        grade = 1
    elif name.startswith(typed):
        grade = 2
    elif all(any(part.startswith(word) for part in name.split()) for word in typed.split()):
        grade = 3
    else:
        grade = 4
    return grade, name, place.place
