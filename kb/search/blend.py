"""All signals in one order, and whether the first of it fits the call at all.

Each signal is brought to 0..1 before it is added, so another one can join with its own weight.
The weights come from calls made of the library's own phrases, each left out of the index in
turn, with typing errors and filler added: never from a set of test queries.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from kb.search.documents import Document
from kb.search.reading import Concept
from kb.search.signals import Array, Scorer, Signals

# Weights of the signals; BM25F, the surest alone, is the measure of the others. The nearest
# phrase counts by a high power of its cosine: one that was said word for word decides, one that
# shares a word or two says nothing that the sum over fields does not know.
FIELDS, LETTERS, PHRASE = 1.0, 0.6, 0.8
_SHARPNESS = 4

# What the circumstances add to a score, as a share of it. Weak: callers name the wrong device,
# and a filter must never hide the right article.
EQUIPMENT, PHASE, PLACE = 0.2, 0.1, 0.05

# Log-odds that the first article fits, by logistic regression of left-out phrases, alone and two
# in one call, against calls on other matters; the constant is raised so as to doubt rarely, since
# the list is shown all the same.
_CONSTANT, _COVERAGE, _DEPTH, _LIKENESS = -3.0, 0.8, 2.6, 7.0


def blend(signals: Signals) -> Array:
    """Return one score for each document, from 0 (nothing in common) to 1."""
    total = FIELDS * _to_one(signals.fields) + LETTERS * _to_one(signals.letters)
    total += PHRASE * np.minimum(signals.phrase, 1) ** _SHARPNESS
    return total / (FIELDS + LETTERS + PHRASE)


def circumstances(
    documents: Sequence[Document],
    equipment: str | None,
    phase: str | None,
    place_equipment: frozenset[str],
) -> Array:
    """Return the factor, from 1 up, by which each document suits the place and the hour."""
    return np.array(
        [
            1
            + EQUIPMENT * (one.equipment == equipment)
            + PHASE * (phase in one.phase)
            + PLACE * (one.equipment in place_equipment)
            for one in documents
        ]
    )


def fits(scorer: Scorer, concepts: Sequence[Concept], signals: Signals, place: int) -> bool:
    """Whether the document at `place` answers the call rather than being the least bad.

    No one score tells. Taken together do: the share of the call's rare words that the document
    holds, how much it makes of them, and its likeness by letters.
    """
    asked = held = 0.0
    for concept in concepts:
        if concept.said:
            rarity = scorer.edition.rarity(concept.terms[0][0])
            found = [share for stem, share in concept.terms if scorer.term(stem)[place] > 0]
            asked += rarity
            held += rarity * max(found, default=0)
    depth = math.log1p(signals.fields[place] / asked)
    likeness = float(signals.letters[place])
    return _CONSTANT + _COVERAGE * held / asked + _DEPTH * depth + _LIKENESS * likeness > 0


def _to_one(scores: Array) -> Array:
    highest = scores.max()
    return scores / highest if highest > 0 else scores
