"""The effect on voting is set by tests, not by feeling.

What a person said stands unless a test says that it is worse: one style that cannot vote is
"stopped" for those voters; a wait over half an hour, or another way of voting in use, is
"slowed".
"""

from __future__ import annotations

from collections.abc import Iterable

# Worst first, as in the list of the files.
from kb.library.vocabulary import EFFECTS

WAIT_CEILING = 30  # minutes


def effect_of(
    said: str | None,
    *,
    wait_minutes: int | None = None,
    contingency: bool = False,
    style_stopped: bool = False,
) -> str | None:
    """Give the worst of what was said and what the tests find; None where nothing is known."""
    found = [said]
    if style_stopped:
        found.append("stopped")
    if contingency or (wait_minutes or 0) > WAIT_CEILING:
        found.append("slowed")
    return worst(found)


def worst(effects: Iterable[str | None]) -> str | None:
    """The worst of several effects; None where none is known."""
    return min((effect for effect in effects if effect), key=EFFECTS.index, default=None)
