"""The ids that the county's files use, each with the word a person sees.

The id is for ever; the word is what the office says today: the id `duplicate` stands in old
files, the page says "same case". Each list is in the order in which it is offered.
"""

from __future__ import annotations

from collections.abc import Iterable

from kb.library import vocabulary


def _plain(ids: Iterable[str]) -> dict[str, str]:
    return {identifier: identifier.replace("-", " ") for identifier in ids}


PHASES = _plain(vocabulary.PHASES) | {"set-up": "set-up", "return": "hand-in"}
SYMPTOMS = _plain(vocabulary.SYMPTOMS) | {
    "multi-feed": "several sheets at once",
    "rejects-good": "gives back good ballots",
    "rejects-many": "gives back many ballots",
    "stuck-start": "stuck while starting",
    "wrong-identity": "wrong place, election or style shown",
    "counter-odd": "counter looks wrong",
    "alarm-sound": "alarm or beeping",
    "touch-off": "touch lands beside the mark",
    "audio-dead": "no sound",
    "controls-dead": "controls do nothing",
    "found-item": "something found",
    "count-disagrees": "counts do not agree",
    "line-long": "long line",
}
EFFECTS = _plain(vocabulary.EFFECTS) | {"device": "one device"}
FLAGS = _plain(("ballots", "access", "custody", "safety", "law"))
OUTCOMES = _plain(
    (
        "fixed-by-phone",
        "fixed-on-site",
        "contingency-then-fixed",
        "contingency-to-close",
        "device-swapped",
        "stopped-and-secured",
        "passed-to-supervisor",
        "passed-to-police-or-fire",
        "not-equipment",
        "duplicate",
        "no-fault-found",
        "caller-lost",
    )
) | {
    "contingency-then-fixed": "another way of voting, then fixed",
    "contingency-to-close": "another way of voting until the close",
    "passed-to-supervisor": "passed to the duty officer",
    "duplicate": "same case",
    "caller-lost": "caller was cut off",
}
CAUSES = _plain(
    (
        "power",
        "consumable",
        "paper",
        "wear",
        "hardware",
        "software",
        "setup-data",
        "delivery",
        "training",
        "voter",
        "environment",
        "third-party",
        "deliberate",
        "none-found",
    )
) | {
    # Words that do not accuse anybody before an inquiry is closed.
    "training": "instructions",
    "voter": "ballot handling",
    "deliberate": "under inquiry",
    "third-party": "somebody outside the office",
    "setup-data": "set-up data",
}
CONFIDENCES = _plain(("confirmed", "likely", "unknown"))

# Desks that take calls which are not about equipment.
DESKS = _plain(("registration", "legal", "supplies", "staffing"))

SHOWN: dict[str, str] = SYMPTOMS | CAUSES | FLAGS | PHASES | EFFECTS | OUTCOMES | CONFIDENCES

# A misfeed is derived from the symptom, never ticked (and only of a scanner).
MISFEEDS = frozenset({"jam", "multi-feed", "rejects-good"})


def is_misfeed(equipment: str | None, symptom: str | None) -> bool:
    """Whether this is a jam, a multiple feed or a wrong rejection of a good ballot."""
    return equipment == "scanner" and symptom in MISFEEDS
