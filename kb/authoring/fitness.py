"""Whether a caller's words may be kept and shown: nothing personal, and nothing rude to others.

Stricter than the warning beside a form: there a person decides, here nobody looks before the
words are stored, so in doubt they are not. A name that is said without any of these turns is
not recognised; authors see the words before they become a phrase.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from kb.search.text import stems

# Says what a text looks like it holds, in words; empty where it looks plain.
LooksPersonal = Callable[[str], list[str]]

REDACTED = "[redacted]"
# After these, "this is" goes on with the fault and not with a name.
_NO_NAME = (
    "the|a|an|about|my|our|your|not|it|what|how|where|why|when|urgent|bad|new|still|only|all|just|"
    "for|to|in|at|on|so|too|very|really|happening|broken|stuck"
)
_PATTERNS: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("a name", re.compile(r"\b(?:my|her|his|their) (?:full |last |first )?name(?: is|'s|s)\b")),
    ("a name", re.compile(r"\b(?:me llamo|mi nombre es|se llama)\b")),
    ("a name", re.compile(r"\b(?:voter|lady|man|guy|woman|judge|worker)s? (?:named|called)\b")),
    ("a name", re.compile(r"\b(?:mr|mrs|ms)\b\.? ?[a-z]")),
    (
        "a name",
        re.compile(
            rf"\bthis is (?!(?:{_NO_NAME})\b)[a-z'-]+(?: [a-z'-]+)? (?:from|at|over|with|calling)\b"
        ),
    ),
    ("a long number", re.compile(r"\d(?:[ ().-]{0,2}\d){6,}")),
    (
        "an address",
        re.compile(
            r"\b\d{1,5} (?:[nsew]\.? )?[a-z]+ "
            r"(?:street|st|road|rd|lane|ln|avenue|ave|drive|dr|court|boulevard|blvd)\b"
        ),
    ),
)

# Words that accuse or offend. They are searched like all others and shown to authors alone.
_RUDE = frozenset(
    stems(
        "rigged cheat fraud fraudulent steal stolen stole crook crooked hacked hacker liar idiot "
        "stupid moron dumb damn damned hell crap crappy shit shitty bullshit fuck ass asshole "
        "bitch bastard piss retard retarded cripple crippled handicap handicapped"
    )
)
_ACCUSING = re.compile(
    r"\b(?:flip\w*|switch\w*|chang\w*) (?:my |the |her |his |our |their )?votes?\b"
    r"|\bvotes? (?:flip|switch|chang)\w*",
    re.IGNORECASE,
)


def unfit(words: str, looks_personal: LooksPersonal) -> list[str]:
    """What forbids keeping a caller's words, in words for a message; empty where nothing does."""
    lowered = " ".join(words.lower().split())
    found = [*looks_personal(words)]
    found += [what for what, pattern in _PATTERNS if pattern.search(lowered)]
    if REDACTED in lowered:
        found.append("a redacted text")
    return list(dict.fromkeys(found))


def is_rude(words: str) -> bool:
    """Whether these words accuse or offend, so that they are shown to authors alone."""
    return not _RUDE.isdisjoint(stems(words)) or _ACCUSING.search(words) is not None
