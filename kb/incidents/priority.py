"""The order of dispatch: one table, read from the top; the first rule that holds decides.

1 is at once. A rule's words are shown beside the priority, so that nobody has to guess.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from kb.incidents.incident import Incident
from kb.incidents.rows import Row

OPENING_WINDOW = 60  # minutes before opening within which a blocked opening is urgent
LONG_WAIT = 20  # minutes; 30 is the ceiling, so there is still time to act
# Symptoms that keep a place from opening even where nobody ticked that it does.
BLOCKING = frozenset({"site-locked", "will-not-open"})


# What priority looks at: the case itself, or its row in a list.
Facts = Incident | Row


@dataclass(frozen=True)
class Rule:
    """One line of the table."""

    priority: int
    words: str
    holds: Callable[[Facts, float | None], bool]


def _blocks_opening(facts: Facts, minutes_to_opening: float | None) -> bool:
    before_voting = facts.phase in {None, "set-up", "opening"}
    blocks = facts.blocks_opening or (facts.symptom in BLOCKING and before_voting)
    # An opening time that is not known is taken for near: the safe side.
    return blocks and (minutes_to_opening is None or minutes_to_opening <= OPENING_WINDOW)


RULES: tuple[Rule, ...] = (
    Rule(1, "people at risk", lambda facts, _: "safety" in facts.flags),
    Rule(1, "voting is stopped", lambda facts, _: facts.effect == "stopped"),
    Rule(
        1,
        "a custody question with ballots inside",
        lambda facts, _: "custody" in facts.flags and bool(facts.ballots_inside),
    ),
    Rule(1, "keeps the place from opening", _blocks_opening),
    Rule(2, "accessible voting is not available", lambda facts, _: "access" in facts.flags),
    Rule(2, "ballots are concerned", lambda facts, _: "ballots" in facts.flags),
    Rule(2, "a custody question", lambda facts, _: "custody" in facts.flags),
    Rule(2, "no other unit of its kind works there", lambda facts, _: facts.last_of_class),
    Rule(2, "stored ballots grow", lambda facts, _: facts.stored_growing),
    Rule(
        2,
        "a wait over 20 minutes",
        lambda facts, _: facts.effect == "slowed" and (facts.wait_minutes or 0) > LONG_WAIT,
    ),
    Rule(3, "voting is slowed", lambda facts, _: facts.effect == "slowed"),
    Rule(4, "can wait", lambda _facts, _: True),
)


def rule_for(facts: Facts, minutes_to_opening: float | None = None) -> Rule:
    """The first rule that holds.

    `minutes_to_opening` counts down to the place's opening, is negative after it, and None
    where it is not known.
    """
    return next(rule for rule in RULES if rule.holds(facts, minutes_to_opening))


def priority(facts: Facts, minutes_to_opening: float | None = None) -> int:
    """1 (at once) to 4 (can wait)."""
    return rule_for(facts, minutes_to_opening).priority
