"""What was opened during a case, and whether its closing, seal and witnesses are in the record.

For each opening the closing is the first one of that compartment at or after it and before its
next opening. Witnesses are the distinct names given after the previous closing of that
compartment and up to this one (or the entries, where names are withheld); the seal is one that
was put on there from the closing on and before the next opening. Order is by time happened,
never by order of arrival.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from kb.incidents.order import Entry

Lack = Literal["witnesses", "closing", "seal"]
WITNESSES_NEEDED = 2


@dataclass(frozen=True)
class Opened:
    """One opening of a compartment, with what is known of its end."""

    compartment: str
    opened: datetime
    closed: datetime | None
    witnesses: frozenset[str]
    seals: tuple[str, ...]

    @property
    def lacks(self) -> tuple[Lack, ...]:
        """What is missing before the record of this opening is whole."""
        lacks: list[Lack] = []
        if len(self.witnesses) < WITNESSES_NEEDED:
            lacks.append("witnesses")
        if self.closed is None:
            lacks.append("closing")
        if self.closed is None or not self.seals:
            lacks.append("seal")
        return tuple(lacks)


def same_name(text: str) -> str:
    """A name as it is compared: case and spaces count for nothing."""
    return "".join(text.casefold().split())


def openings(timeline: Iterable[Entry]) -> tuple[Opened, ...]:
    """Every opening that the entries of a case tell, in order."""
    standing = [entry for entry in timeline if not entry.struck]
    found: list[Opened] = []
    for name in dict.fromkeys(_compartment(entry) for entry in standing if _opens(entry)):
        found += _of_compartment(name, standing)
    return tuple(sorted(found, key=lambda one: (one.opened, one.compartment)))


def _of_compartment(name: str, entries: Sequence[Entry]) -> list[Opened]:
    turns = [entry for entry in entries if _compartment(entry) == name]
    starts = [entry for entry in turns if _opens(entry)]
    found = []
    for place, start in enumerate(starts):
        following = starts[place + 1].at if place + 1 < len(starts) else None
        closings = [entry.at for entry in turns if not _opens(entry)]
        closed = next((at for at in closings if _within(at, start.at, following)), None)
        before = max((at for at in closings if at < start.at), default=None)
        found.append(
            Opened(
                start.text("compartment"),
                start.at,
                closed,
                _witnesses(entries, before, closed or following),
                _seals(entries, name, closed, following),
            )
        )
    return found


def _opens(entry: Entry) -> bool:
    return entry.kind == "compartment.opened"


def _compartment(entry: Entry) -> str:
    """The compartment an entry opens or closes; empty for an entry of another kind."""
    is_turn = entry.kind in {"compartment.opened", "compartment.closed"}
    return same_name(entry.text("compartment")) if is_turn else ""


def _within(at: datetime, start: datetime, end: datetime | None) -> bool:
    return at >= start and (end is None or at < end)


def _witnesses(
    entries: Iterable[Entry], after: datetime | None, until: datetime | None
) -> frozenset[str]:
    names = (
        # Names that are withheld look alike: each entry counts as a witness of its own.
        entry.id if "name" in entry.withheld else same_name(entry.text("name"))
        for entry in entries
        if entry.kind == "witness.named"
        and (after is None or entry.at > after)
        and (until is None or entry.at <= until)
    )
    return frozenset(name for name in names if name)


def _seals(
    entries: Iterable[Entry], compartment: str, closed: datetime | None, until: datetime | None
) -> tuple[str, ...]:
    if closed is None:
        return ()
    return tuple(
        entry.text("seal")
        for entry in entries
        if entry.kind == "seal.applied"
        and same_name(entry.text("where")) == compartment
        and _within(entry.at, closed, until)
    )
