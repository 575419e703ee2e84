"""What the record of a case still lacks before it can be closed without a stated reason.

These are the rules of custody: what was opened is closed, sealed and witnessed by two; a
device that counts was read before and after a swap or a restart, and the readings agree;
stored ballots came out even. A rule never stops voting and never refuses what a rover's phone
brings: it asks before the end, and what stays open stands in the record as a gap.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from kb.incidents.incident import Counter, Incident, Tally
from kb.incidents.openings import Opened, openings

# Whether the device with this asset number counts ballots.
Counts = Callable[[str], bool]
RESTART = "restart"

_OPENING_WORDS = {
    "witnesses": "fewer than two witnesses are named from before it was closed. Name two sworn "
    "workers, and give the time when they stood there.",
    "closing": "it was opened and nobody has entered that it was closed.",
    "seal": "no seal was put on it after it was closed. Enter the new seal's number.",
}


@dataclass(frozen=True)
class Lack:
    """One thing that is missing or does not agree: what it is about, and what to do."""

    code: str
    about: str
    text: str

    def __str__(self) -> str:
        return f"{self.about}: {self.text}"


def lacking(incident: Incident, counts: Counts) -> tuple[Lack, ...]:
    """Everything that keeps a case from being closed without a reason."""
    return (*_opened(incident), *_swapped(incident, counts), *_restarted(incident, counts),
            *_stored(incident))  # fmt: skip


def _opened(incident: Incident) -> Iterator[Lack]:
    for one in openings(incident.timeline):
        for lack in one.lacks:
            if lack == "seal" and "closing" in one.lacks:
                continue  # said once: it has to be closed first
            yield Lack(lack, _name(one), _OPENING_WORDS[lack])


def _name(one: Opened) -> str:
    return one.compartment[:1].upper() + one.compartment[1:]


def _swapped(incident: Incident, counts: Counts) -> Iterator[Lack]:
    for swap in incident.swaps:
        for asset, moment, when in ((swap.old, "before", "out"), (swap.new, "after", "in")):
            if asset and counts(asset) and not _readings(incident, asset, moment):
                yield Lack(
                    "counter",
                    f"Device {asset}",
                    f"its counters are not in the record as it was taken {when} of use. "
                    f"Read them and pick “{moment} the work”.",
                )


def _restarted(incident: Incident, counts: Counts) -> Iterator[Lack]:
    asset = incident.asset
    if not (asset and counts(asset) and _was_restarted(incident)):
        return
    before, after = (_readings(incident, asset, moment) for moment in ("before", "after"))
    if not before or not after:
        missing = "before" if not before else "after"
        yield Lack(
            "counter",
            f"Device {asset}",
            f"it was restarted, and no counter is entered from {missing} it.",
        )
    elif _differ(before[-1], after[-1]):
        yield Lack(
            "counter-differs",
            f"Device {asset}",
            f"the public counter was {before[-1].public} before the restart and is "
            f"{after[-1].public} after it. Read it again; if it stays so, tell the duty officer.",
        )


def _was_restarted(incident: Incident) -> bool:
    told = (entry for entry in incident.timeline if not entry.struck)
    decided = any(entry.text("about") == RESTART for entry in told if entry.kind == "decision.made")
    return decided or incident.symptom == "restarted"


def _readings(incident: Incident, asset: str, moment: str) -> list[Counter]:
    return [one for one in incident.counters if one.asset == asset and one.moment == moment]


def _differ(before: Counter, after: Counter) -> bool:
    return before.public is not None and after.public is not None and before.public != after.public


def _stored(incident: Incident) -> Iterator[Lack]:
    """Stored = accepted + returned, and the counter rose by what was accepted."""
    if not incident.tallies:
        if any("emergency" in move.source.casefold() for move in incident.ballots):
            yield Lack(
                "tally",
                "Stored ballots",
                "ballots were taken out of the emergency compartment and are not counted up. "
                "Enter how many were stored, accepted and returned to voters.",
            )
        return
    tally = incident.tallies[-1]
    left = remaining(tally)
    if left is None:
        yield Lack("tally", "Stored ballots", "one of stored, accepted and returned is missing.")
    elif left:
        yield Lack(
            "tally",
            "Stored ballots",
            f"{tally.stored} were stored; {tally.accepted} accepted and {tally.returned} returned "
            f"leave {abs(left)} {'not accounted for' if left > 0 else 'too many'}. Count again.",
        )
    rise = counter_rise(incident)
    if rise is not None and tally.accepted is not None and rise != tally.accepted:
        yield Lack(
            "tally-counter",
            "Stored ballots",
            f"{tally.accepted} were accepted, and the public counter rose by {rise}.",
        )


def remaining(tally: Tally) -> int | None:
    """Stored ballots that are neither accepted nor returned; None where a number is missing."""
    if tally.stored is None or tally.accepted is None or tally.returned is None:
        return None
    return tally.stored - tally.accepted - tally.returned


def counter_rise(incident: Incident) -> int | None:
    """By how much the public counter rose over the work on stored ballots, where both are read.

    The readings are those of the one device that was read before and after, the last of each.
    """
    before = {one.asset: one.public for one in incident.counters if one.moment == "before"}
    after = {one.asset: one.public for one in incident.counters if one.moment == "after"}
    both = [asset for asset in before if asset in after]
    if len(both) != 1:
        return None
    first, last = before[both[0]], after[both[0]]
    return None if first is None or last is None else last - first
