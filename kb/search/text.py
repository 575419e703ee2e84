"""Words as they are compared: folded, split, stemmed, the same way for articles and callers.

Callers type no accents, few apostrophes and hyphens anywhere, so all three are evened out.
What must survive: one-letter and one-digit tokens (lane "A", box 2), codes such as "E-104", and
the small words that turn a fault around ("no", "not", "on", "off", "out", "up").
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

import snowballstemmer

_TOKEN = re.compile(r"[^\W_]+(?:['-][^\W_]+)*")
_CLITIC = re.compile(r"'(?:s|re|ve|ll|d|m)$")
_STEMMER = snowballstemmer.stemmer("english")

# Said without the apostrophe as often as with it; all of them say "not".
_NEGATED = "ai are ca could did does do had has have is must should was were wo would"
_NEGATIONS = frozenset({"cannot", *(f"{verb}nt" for verb in _NEGATED.split())})


@lru_cache(maxsize=50_000)
def stem(word: str) -> str:
    """Return the Snowball English stem of one lower-case word.

    Whoosh's own stemmers leave jamm, unplugg and stopp, which meet neither jam, unplug nor stop.
    """
    return str(_STEMMER.stemWord(word))


def fold(text: str) -> str:
    """Lower case without accents: "Máquina" and "maquina" become one word."""
    if text.isascii():
        return text.lower()
    marked = unicodedata.normalize("NFKD", text.casefold().replace("’", "'"))
    return "".join(sign for sign in marked if not unicodedata.combining(sign))


def words(text: str, *, wholes: bool = True) -> list[str]:
    """Return the words of a text in order, folded, not stemmed.

    A hyphenated word gives its parts and, after them, the whole in one piece, so that "E-104",
    "E 104" and "E104" meet, and "check-in" meets "checkin". Without `wholes` only the parts.
    """
    found: list[str] = []
    for token in _TOKEN.findall(fold(text)):
        if "'" not in token and "-" not in token:
            found.append("not" if token in _NEGATIONS else token)
            continue
        parts = [_plain(part) for part in token.split("-")]
        found += parts
        if wholes and len(parts) > 1:
            found.append("".join(parts))
    return found


def stems(text: str) -> list[str]:
    """Return the stems of a text in order."""
    return [stem(word) for word in words(text)]


def _plain(part: str) -> str:
    if part.endswith("n't") or part.replace("'", "") in _NEGATIONS:
        return "not"
    return _CLITIC.sub("", part).replace("'", "")
