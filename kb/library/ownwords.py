"""The county's own words for a few terms of the library, put in where a text is shown.

A worker hears the word that the county's training used. Texts, hashes and records keep the
library's words; only what is shown changes, so nothing here is ever stored.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from kb.library.words import Same, Words

# The terms that a county may call by a name of its own, and how each is said of several.
TERMS: Mapping[str, str] = {
    "emergency compartment": "emergency compartments",
    "chief judge": "chief judges",
    "zero report": "zero reports",
    "rover": "rovers",
}
_ONE_OF = {many: one for one, many in TERMS.items()}

# While words are put in, a tag is three characters: of an element within a line, or any other.
# NUL cannot be in the text: Markdown's parser takes it out.
_WITHIN, _AROUND = "\0w\0", "\0a\0"
_STAND_IN = re.compile(f"{_WITHIN}|{_AROUND}")
# What stands in code is left alone, so it counts as one tag.
_TAG = re.compile(r"<(code|pre)\b.*?</\1>|<[^>]*>", re.DOTALL)
_LINE_TAG = re.compile(r"</?(?:a|em|strong|span)\b")

# A term, and "a" or "an" before it, which must fit the county's word. A hyphen on either side
# belongs to a name, such as a file's.
_GAP = rf"(?:\s|{_WITHIN})+"
_FOUND = re.compile(
    r"(?<![\w-])(?:(?P<article>an?)(?P<gap>{gap}))?(?P<term>{terms})(?![\w-])".format(
        gap=_GAP,
        terms="|".join(term.replace(" ", _GAP) for term in [*TERMS.values(), *TERMS]),
    ),
    re.IGNORECASE,
)
# By the sound: an auxiliary bin, a unit, a one-way slot.
_AN = re.compile(r"(?!eu|one\b|use|uni[^nm])[aeiou]", re.IGNORECASE)


@dataclass(frozen=True)
class OwnWord:
    """What the county calls one thing, and several of it."""

    one: str
    many: str


@dataclass(frozen=True)
class OwnWords:
    """The county's own words by the library's terms; without any, texts stay as they are."""

    words: Mapping[str, OwnWord] = field(default_factory=dict)

    def text(self, text: str) -> str:
        """Put the county's words into a plain text: a title, a stop line, an answer."""
        return self._put(text, str)

    def html(self, rendered: str) -> str:
        """Put them into HTML that this program rendered from Markdown, which is well formed.

        A term may run across emphasis and links; addresses, attributes and code stay.
        """
        tags = [found.group() for found in _TAG.finditer(rendered)]
        line = _TAG.sub(lambda tag: _WITHIN if _LINE_TAG.match(tag[0]) else _AROUND, rendered)
        given = iter(tags)
        return _STAND_IN.sub(lambda _: next(given), self._put(line, html.escape))

    def widen(self, words: Words) -> Words:
        """Let search take each of the county's words for the library's term."""
        said = tuple(
            Same(tuple(dict.fromkeys((own.one, own.many))), (term,))
            for term, own in self.words.items()
        )
        return replace(words, same=(*words.same, *said)) if said else words

    def _put(self, text: str, write: Callable[[str], str]) -> str:
        return _FOUND.sub(lambda found: self._said(found, write), text) if self.words else text

    def _said(self, found: re.Match[str], write: Callable[[str], str]) -> str:
        term = found["term"]
        plain = " ".join(_STAND_IN.sub(" ", term).lower().split())
        own = self.words.get(_ONE_OF.get(plain, plain))
        if own is None:
            return found[0]
        said = own.many if plain in _ONE_OF else own.one
        article = found["article"] or ""
        if article:
            article = article[0] + ("n" if _AN.match(said) else "") + found["gap"]
        if term[0].isupper():
            said = said[0].upper() + said[1:]
        # A tag inside the term closes or opens something: it stays, after the word.
        return article + write(said) + "".join(_STAND_IN.findall(term))
