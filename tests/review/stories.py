"""Cases told in a line: what was opened, walked and how it ended. All of it is invented."""

from __future__ import annotations

from collections.abc import Sequence

from kb.incidents.events import Event
from kb.incidents.fold import fold
from kb.incidents.incident import Incident
from tests.incidents.telling import HASH, event

Answered = tuple[float, str, str, str]


def case(
    name: str,
    *,
    opened: Sequence[str | tuple[str, str]] = (),
    walk: Sequence[Answered] = (),
    outcome: str = "",
    place: str = "P01",
    minute: float = 0,
    closed: bool = True,
    hash_: str = HASH,
) -> Incident:
    """A case of the scanner at a place; `opened` are slugs, with the caller's words or without.

    `walk`: minutes after the call, tree, step and answer, in the first of these trees.
    """

    def told(kind: str, body: dict[str, object], after: float = 0) -> Event:
        return event(kind, body, minute=minute + after, incident=name)

    events = [
        told("call.answered", {}),
        told("incident.reported", {"place": place, "equipment": "scanner"}, 0.1),
    ]
    for number, one in enumerate(opened):
        slug, words = (one, "it is stuck") if isinstance(one, str) else one
        events.append(told("search.picked", {"article": slug, "words": words}, 1 + number / 10))
    for after, tree, step, answer in walk:
        body = {"tree": tree, "hash": hash_, "step": step, "answer": answer, "walk": walk[0][1]}
        events.append(told("tree.answered", body, after))
    if outcome == "duplicate":
        events.append(told("incident.merged", {"into": "another"}, 50))
    elif outcome and closed:
        events.append(told("incident.closed", {"outcome": outcome}, 50))
    return fold(events)
