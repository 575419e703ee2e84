"""What the pages offer where the record takes any short line: the program's own words.

Such a value says nothing that somebody typed, so it may be public as it is; anything else in the
same member is read by a person first. A test holds these lists against those of the pages.
"""

from __future__ import annotations

from kb.incidents.actions import STATES

_COMPARTMENTS = frozenset(
    {"main ballot box", "emergency compartment", "scanner cover", "memory door", "other"}
)
_WHERE_BALLOTS = frozenset(
    {
        "emergency compartment",
        "main ballot box",
        "scanner",
        "sealed container",
        "envelope",
        "office",
    }
)
_OF_SEALS = frozenset({"whole", "broken", "missing", "number differs"})
_OF_FORMS = frozenset({"used", "spoiled", "blank", "missing"})

OFFERED: dict[str, frozenset[str]] = {
    "where": _COMPARTMENTS,
    "compartment": _COMPARTMENTS,
    "from": _WHERE_BALLOTS,
    "to": _WHERE_BALLOTS,
    "state": _OF_SEALS | _OF_FORMS | frozenset(STATES),
    "memory": frozenset(
        {
            "stays in the old device",
            "moved to the new device",
            "sealed in a pouch",
            "has none",
        }
    ),
    "role": frozenset({"chief judge", "poll worker", "other sworn person"}),
}


def is_offered(member: str, value: object) -> bool:
    """Whether this is one of the program's own words for this member."""
    return value in OFFERED.get(member, frozenset())
