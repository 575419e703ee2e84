"""What a review looks at: the cases of one election, its places, devices and ballots, plainly.

The words used here (counted, fault, start, deployed, usable place) mean the same in every
figure, table and report.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from kb.incidents.places import Device, Election, Exposure, Place
from kb.incidents.rows import Row

UNKNOWN = "(unknown)"


@dataclass(frozen=True)
class Case:
    """One incident. Equipment, symptom, phase and effect are "(unknown)" where not told.

    `effect` is the worst that it ever did to voting. `zone` is that of its place.
    """

    id: str
    place: str | None
    zone: str | None
    asset: str | None
    equipment: str
    symptom: str
    phase: str
    effect: str
    outcome: str | None
    started: datetime | None
    reported: datetime | None
    restored: datetime | None

    @property
    def counted(self) -> bool:
        """Whether it enters any count: not when marked as the same case as another."""
        return self.outcome != "duplicate"

    @property
    def fault(self) -> bool:
        """A counted case that did something to voting; an unknown effect counts as a fault."""
        return self.counted and self.effect != "none"

    @property
    def start(self) -> datetime | None:
        """When the trouble began, else when it was reported."""
        return self.started or self.reported

    @property
    def kind(self) -> str:
        """Class and symptom, `equipment|symptom`."""
        return f"{self.equipment}|{self.symptom}"


@dataclass(frozen=True)
class Material:
    """All that a review of one election reads. `ballots`: by place, where known and over 0."""

    election: Election
    cases: tuple[Case, ...]
    places: Mapping[str, Place]
    deployed: Mapping[str, int]
    ballots: Mapping[str, int]

    @property
    def counted(self) -> list[Case]:
        """The cases that enter counts."""
        return [case for case in self.cases if case.counted]

    @property
    def faults(self) -> list[Case]:
        """The faults, wherever they were."""
        return [case for case in self.cases if case.fault]

    def zone(self, place: str) -> str:
        """The zone of a place."""
        return self.places[place].zone or UNKNOWN


def material(
    election: Election,
    rows: Iterable[Row],
    places: Iterable[Place],
    devices: Iterable[Device],
    exposures: Iterable[Exposure],
) -> Material:
    """Put the projection's rows into the review's terms."""
    known = {place.id: place for place in places}
    return Material(
        election,
        tuple(case_of(row, known) for row in rows),
        known,
        _deployed(devices),
        _ballots(exposures, known),
    )


def case_of(row: Row, places: Mapping[str, Place]) -> Case:
    """One row of the projection in the review's terms."""
    place = places.get(row.place) if row.place else None
    return Case(
        id=row.id,
        place=row.place,
        zone=(place.zone or UNKNOWN) if place else None,
        asset=row.asset,
        equipment=row.equipment or UNKNOWN,
        symptom=row.symptom or UNKNOWN,
        phase=row.phase or UNKNOWN,
        effect=row.worst_effect or row.effect or UNKNOWN,
        outcome="duplicate" if row.duplicate_of else row.outcome,
        started=row.started,
        reported=row.reported,
        restored=row.restored,
    )


def _deployed(devices: Iterable[Device]) -> dict[str, int]:
    """Devices at a place that are no spares, by class."""
    count: defaultdict[str, int] = defaultdict(int)
    for device in devices:
        if device.place is not None and not device.spare:
            count[device.equipment] += 1
    return dict(count)


def _ballots(exposures: Iterable[Exposure], places: Mapping[str, Place]) -> dict[str, int]:
    """Ballots by usable place, over all its voting days."""
    total: defaultdict[str, int] = defaultdict(int)
    for exposure in exposures:
        if exposure.ballots and exposure.place in places:
            total[exposure.place] += exposure.ballots
    return dict(total)
