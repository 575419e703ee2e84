"""The sentence of an article that best shows why it was found."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from kb.search.documents import Document
from kb.search.text import stems

_END = re.compile(r"(?<=[.!?])\s+|\n+")
_LONGEST = 180


@dataclass(frozen=True)
class Sentences:
    """The sentences of one body, and which of them hold each stem."""

    texts: tuple[str, ...]
    holders: Mapping[str, tuple[int, ...]]


def sentences(document: Document) -> Sentences:
    """Split the body of a document: what one hears first, then what one does, then the rest."""
    body = f"{document.hear}\n{document.do}\n{document.rest}"
    texts = tuple(text.strip() for text in _END.split(body) if text.strip())
    holders: dict[str, list[int]] = defaultdict(list)
    for number, text in enumerate(texts):
        for stem in set(stems(text)):
            holders[stem].append(number)
    return Sentences(texts, {stem: tuple(numbers) for stem, numbers in holders.items()})


def snippet(body: Sentences, weights: Mapping[str, float]) -> str:
    """Return the sentence with the highest sum of weights; the first of equals; "" where none."""
    totals: dict[int, float] = defaultdict(float)
    for stem, weight in weights.items():
        for number in body.holders.get(stem, ()):
            totals[number] += weight
    if not totals:
        return ""
    text = body.texts[max(totals, key=lambda number: (totals[number], -number))]
    return text if len(text) <= _LONGEST else text[:_LONGEST].rsplit(" ", 1)[0] + " …"
