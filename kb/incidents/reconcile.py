"""Whether a place's ballots and voters come out even at the end of the day.

Two sums, as common practice has them on a precinct's sheet:

    used      = delivered - left
    counted   = used - (stored not scanned + provisional + spoiled)
    checked in = counted + stored not scanned + provisional + fled

`stored` are ballots from the emergency compartment that the scanner has not counted; `fled`
are voters who checked in and left without voting. Check-in arithmetic never proves one ballot:
a difference is explained before the canvass, not argued away.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import cast


@dataclass(frozen=True)
class Sums:
    """The two differences; None where a number that it needs is not known.

    `of_ballots`: what the scanner counted, less what the used ballots say it should have.
    `of_voters`: voters checked in, less what became of them.
    """

    used: int | None
    expected: int | None
    of_ballots: int | None
    of_voters: int | None
    explained: str

    @property
    def even(self) -> bool:
        """Whether at least one sum could be made, and all that could come to zero."""
        known = [one for one in (self.of_ballots, self.of_voters) if one is not None]
        return bool(known) and not any(known)

    @property
    def settled(self) -> bool:
        """Even, or the difference is explained."""
        return self.even or bool(self.explained)


def reconcile(told: Mapping[str, object]) -> Sums:
    """The sums of a place.reconciled body. What was not told of the rare ones counts as none."""
    stored, provisional, spoiled, fled = (
        _number(told, name) or 0 for name in ("stored", "provisional", "spoiled", "fled")
    )
    counted, checked_in = _number(told, "counted"), _number(told, "checked_in")
    delivered, left = _number(told, "delivered"), _number(told, "left")
    used = None if delivered is None or left is None else delivered - left
    expected = None if used is None else used - stored - provisional - spoiled
    of_ballots = None if expected is None or counted is None else counted - expected
    of_voters = None
    if counted is not None and checked_in is not None:
        of_voters = checked_in - (counted + stored + provisional + fled)
    return Sums(used, expected, of_ballots, of_voters, str(told.get("explained", "")))


def _number(told: Mapping[str, object], name: str) -> int | None:
    return cast("int | None", told.get(name))
