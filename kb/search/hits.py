"""What is shown of an article that was found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kb.search.edition import Edition
from kb.search.reading import Concept
from kb.search.signals import Scorer
from kb.search.snippet import snippet

# From this cosine on, one phrase of the article is as good as what was said.
_NEAR = 0.6
_WORDS_SHOWN = 6


@dataclass(frozen=True)
class Hit:
    """One article found. `score` runs from 0 up; `why` and `snippet` are for the eye."""

    slug: str
    title: str
    equipment: str
    kind: str
    code: str
    score: float
    stop: str
    first_step: str
    why: str
    snippet: str


@dataclass(frozen=True)
class Answer:
    """What was found for a call, best first. `fits` is false where nothing answers it well."""

    query: str
    fits: bool
    hits: tuple[Hit, ...]


def weights(edition: Edition, concepts: Sequence[Concept]) -> dict[str, float]:
    """Return what each stem of a call is worth in a snippet."""
    worth: dict[str, float] = {}
    for concept in concepts:
        for stem, share in concept.terms:
            worth[stem] = max(worth.get(stem, 0), share * edition.rarity(stem))
    return worth


def hit(scorer: Scorer, place: int, score: float, reason: str, worth: Mapping[str, float]) -> Hit:
    """Return the document at `place` as shown: under the article it reports as, if that is here."""
    edition = scorer.edition
    found = edition.documents[place]
    shown = edition.documents[edition.places.get(found.reports_as, place)]
    return Hit(
        slug=found.reports_as,
        title=shown.title,
        equipment=shown.equipment,
        kind=shown.kind,
        code=shown.code,
        score=score,
        stop=shown.stop,
        first_step=shown.first_step,
        why=reason,
        snippet=snippet(edition.sentences(place), worth),
    )


def why(scorer: Scorer, concepts: Sequence[Concept], place: int, phrase: float) -> str:
    """Say in a few words why a document came.

    Only the caller's own words are given back: phrases may be rude, they are searched but not
    shown.
    """
    worth = [(float(scorer.concept(one)[place]), one.word) for one in concepts]
    said = [word for score, word in sorted(worth, reverse=True) if score > 0]
    if not said:
        return "similar spelling"
    reason = "like a caller's phrase" if phrase >= _NEAR else "words"
    return f"{reason}: {', '.join(said[:_WORDS_SHOWN])}"
