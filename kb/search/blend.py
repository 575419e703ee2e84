"""All signals in one order, and whether the first of it fits the call at all.

The weights come from calls written by people who had seen nothing but the articles' titles
(tests/fixtures/search/calls_tuning.tsv), by maximum likelihood of the right article, checked on
topics left out in turn: never from a set of queries that measures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kb.search.documents import Document
from kb.search.reading import Concept
from kb.search.signals import Array, Scorer, Signals

Weights = tuple[float, float, float, float]

# Weights of the signals (fields, letters, phrase, meaning) where sentence vectors are at hand, and
# by words alone. Each signal is measured in its own spread over the documents, so that none
# outweighs another by its scale.
WITH_MEANING: Weights = (0.35, 0.4, 0.55, 0.9)
BY_WORDS: Weights = (0.75, 0.35, 0.85, 0.0)

# A call is seldom about a checklist, and a tree's own words speak for several articles: both
# stand back by so many spreads.
BEHIND = {"tree": 1.75, "checklist": 1.9}

# What the circumstances add to a score, as a share of it. Weak: callers name the wrong device,
# and a filter must never hide the right article.
EQUIPMENT, PHASE, PLACE = 0.2, 0.1, 0.05

# A call this near in meaning to calls on other matters is one of them: of calls written from
# titles one in a hundred is that near. An article that holds next to nothing of a call must mean
# the like.
_ELSEWHERE, _HELD, _SENSE = 0.24, 0.1, 0.3

# By words alone: log-odds that the first article fits, by logistic regression of left-out phrases,
# alone and two in one call, against calls on other matters; the constant is raised so as to doubt
# rarely, since the list is shown all the same.
_CONSTANT, _COVERAGE, _DEPTH, _LIKENESS = -3.0, 0.8, 2.6, 7.0


def blend(signals: Signals, weights: Weights | None = None) -> Array:
    """Return one score for each document, 0 where it has too little in common with the call."""
    parts = (signals.fields, signals.letters, signals.phrase, signals.meaning)
    if weights is None:
        weights = WITH_MEANING if signals.meaning.any() else BY_WORDS
    total = np.zeros(len(signals.fields))
    for weight, part in zip(weights, parts, strict=True):
        total += weight * _in_spreads(part)
    return total


def behind(kinds: NDArray[np.str_]) -> Array:
    """Return by how much each document stands back, in spreads."""
    total = np.zeros(len(kinds))
    for kind, spreads in BEHIND.items():
        total += spreads * (kinds == kind)
    return total


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

    With sentence vectors the sense of the call decides. By words no one score tells; taken
    together do: the share of the call's rare words that the document holds, how much it makes of
    them, and its likeness by letters.
    """
    asked = held = 0.0
    for concept in concepts:
        if concept.said:
            rarity = scorer.edition.rarity(concept.terms[0][0])
            found = [share for stem, share in concept.terms if scorer.term(stem)[place] > 0]
            asked += rarity
            held += rarity * max(found, default=0)
    if signals.elsewhere > -1:
        sensible = held > _HELD * asked or signals.meaning[place] > _SENSE
        return bool(signals.elsewhere <= _ELSEWHERE and sensible)
    depth = math.log1p(signals.fields[place] / asked)
    likeness = float(signals.letters[place])
    return _CONSTANT + _COVERAGE * held / asked + _DEPTH * depth + _LIKENESS * likeness > 0


def _in_spreads(scores: Array) -> Array:
    spread = scores.std()
    return scores / spread if spread > 0 else scores
