"""What the end of a tree means for the case: how voting goes on, and what it proposes."""

from __future__ import annotations

from kb.web.shown import own
from kb.web.walks import Walk

VOTING_WORDS = {
    "same-device": "Voting goes on at the same device.",
    "emergency-bin": "Voting goes on: voters put their ballots in the emergency compartment.",
    "paper-list": "Voting goes on: check voters in on the paper list.",
    "other-unit": "Voting goes on at another unit.",
    "moved": "Voting goes on at another spot that the office names.",
    "stopped": "Voting has stopped here. The office decides how it goes on.",
    "over": "Voting is over here.",
}
_EFFECTS = {
    "same-device": "device",
    "other-unit": "device",
    "emergency-bin": "slowed",
    "paper-list": "slowed",
    "moved": "slowed",
    "stopped": "stopped",
    "over": "none",
}
# How the call goes on after an end, and with which outcome. The person decides.
_WAYS = {
    "fixed": ("close", "fixed-by-phone"),
    "contingency": ("open", ""),
    "swap": ("rover", ""),
    "rover": ("rover", ""),
    # Nobody has said yet that voting goes on as before, so these stay on the list of open cases.
    "secure": ("open", "stopped-and-secured"),
    "emergency": ("open", "passed-to-police-or-fire"),
    "supervisor": ("open", "passed-to-supervisor"),
}
_FLAGS = {"emergency": "safety", "secure": "custody"}


def proposed(walk: Walk | None) -> dict[str, str]:
    """What an ended walk fills in for the finish of a call; nothing before the end."""
    if walk is None or walk.step.kind != "end":
        return {}
    outcome, voting = walk.step.outcome or "", walk.step.voting or ""
    way, closing = _WAYS.get(outcome, ("", ""))
    task = "swap the device" if outcome == "swap" else own(walk.step.heading)
    return {
        "way": way,
        "flag": _FLAGS.get(outcome, ""),
        "outcome": closing,
        "effect": walk.step.effect or _EFFECTS.get(voting, ""),
        "reason": task if way == "rover" else "",
    }
