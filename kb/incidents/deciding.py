"""Who may decide what, and whom it needs: one table, read by the intake and by the pages.

The county's own rule goes first; this is the strict default for where nothing is set, to be
confirmed by counsel. Hotline and rovers carry decisions out, they do not make them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Decision:
    """A kind of decision: what it is called, which roles make it, who has to agree or be there."""

    name: str
    roles: frozenset[str]
    needs: str


DECIDED = "decision.made"

_LEADING = frozenset({"lead", "manager"})
_MANAGER = frozenset({"manager"})

DECISIONS = {
    "restart": Decision("Restart a device that counts", _LEADING, "the chief judge at the place"),
    "swap": Decision("Swap a device", _LEADING, "a rover and two sworn workers"),
    "take-out": Decision("Take a device out of use", _LEADING, "the chief judge at the place"),
    "re-feed": Decision("Feed a ballot again", _MANAGER, "two sworn workers and counsel"),
    "re-open": Decision("Open the polls again on a device", _MANAGER, "counsel"),
    "relocate": Decision("Move a polling place", _MANAGER, "counsel and the head of the office"),
    "copies": Decision("Use copies of ballots", _MANAGER, "counsel and the head of the office"),
    "other": Decision("Something else", _LEADING, ""),
}


def refusal(about: str, roles: Iterable[str], asked: str) -> str:
    """Why somebody of these roles may not enter this decision; empty where they may.

    `asked`: who else was asked, as it was entered.
    """
    decision = DECISIONS.get(about)
    if decision is None:
        return f"about: no decision is called '{about}'; use one of {', '.join(DECISIONS)}"
    if decision.roles.isdisjoint(roles):
        who = " or ".join(sorted(decision.roles))
        return f"about: “{decision.name}” is decided by a {who}"
    if decision.needs and not asked:
        return f"who_else: “{decision.name}” needs {decision.needs}; say who that was"
    return ""


def correction_refusal(
    now: Mapping[str, object], then: Mapping[str, object] | None, roles: Collection[str]
) -> str:
    """Why somebody of these roles may not make one decision of another; empty where they may.

    `now`: what the decision says; `then`: what it shall say, None where it only is struck out
    or has another time. Who may not make a decision may not undo it either.
    """
    was = DECISIONS.get(str(now.get("about")))
    if was is not None and was.roles.isdisjoint(roles):
        who = " or ".join(sorted(was.roles))
        return f"about: “{was.name}” was decided by a {who}; only they may correct it"
    if then is None or "about" not in then:
        return ""
    return refusal(str(then["about"]), roles, str(then.get("who_else", "")))
