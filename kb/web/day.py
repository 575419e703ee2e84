"""The election day as the Now page tells it: read once for all who look at it."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime

from kb.incidents.places import Device, Election, Place
from kb.incidents.rollcall import LateOpening, Silent, late_openings, silent
from kb.incidents.rows import Row, by_rover
from kb.incidents.spares import Left, hours, spares
from kb.people.accounts import Account
from kb.review import store as reviewed
from kb.review.day.clusters import Cluster, Watched, clusters, watched
from kb.review.measures.shared import LEVEL, Common, common
from kb.web.county import County

# What a page shows of a long list; the rest is a link away.
SHOWN = 60


@dataclass(frozen=True)
class Day:
    """What stands now, each list in the order in which it is shown.

    `open` is by priority and age; `stopped` also holds closed cases whose place has not voted
    again. `members`: how many cases each county-wide one has; `told`: the cases that belong to
    one; `shared`: what the failing devices of a cluster's kind have in common; `numbers`: the
    spoken number of each. `rings`: callers who gave up before anybody answered; `cut_off`: calls
    that broke off; `passed`: calls by other desk.
    """

    at: datetime
    election: Election
    places: Mapping[str, Place]
    open: tuple[Row, ...]
    stopped: tuple[Row, ...]
    county_wide: tuple[Row, ...]
    members: Mapping[str, int]
    silent: tuple[Silent, ...]
    late: tuple[LateOpening, ...]
    clusters: tuple[Cluster, ...]
    shared: Mapping[str, tuple[Common, ...]]
    watched: tuple[Watched, ...]
    numbers: Mapping[str, int]
    told: frozenset[str]
    rovers: tuple[tuple[Account, tuple[Row, ...]], ...]
    spares: tuple[Left, ...]
    rings: int
    cut_off: int
    passed: tuple[tuple[str, int], ...]
    without_history: bool

    @property
    def stopped_places(self) -> int:
        """How many places have stopped."""
        return len({row.place for row in self.stopped if row.place})

    @property
    def waiting(self) -> int:
        """How many open cases nobody was sent to."""
        return sum(row.rover is None for row in self.open)

    @property
    def oldest(self) -> datetime | None:
        """When the oldest open case was reported."""
        return min((row.reported for row in self.open if row.reported), default=None)


def read(county: County, instant: datetime) -> Day | None:
    """The day at an instant; None where no election is set up."""
    election = county.election(instant)
    if election is None:
        return None
    record = county.record
    rows = record.incidents(election.id, now=instant)
    everywhere, devices = record.places(), record.devices()
    places = {place.id: place for place in everywhere}
    marks = record.marks(election.id)
    opened = {one: told["place.opened"].at for one, told in marks.items() if "place.opened" in told}
    # A county-wide case is no case of a place: it stands by itself.
    cases = [row for row in rows if not row.county_wide]
    still = tuple(row for row in cases if row.status == "open")
    material = reviewed.cases_of(rows, places)
    before = reviewed.before(record, election)
    found = clusters(material, before, election.time_zone, election.date)
    shown = tuple(one for one in found if one.growing(instant) or _open(one, still))
    swaps = [event.body.get("new") for event in record.told("device.swapped", election.id)]
    return Day(
        at=instant,
        election=election,
        places=places,
        open=still,
        # A case may be closed, passed on, while voting there still stands.
        stopped=tuple(row for row in cases if row.effect == "stopped" and row.restored is None),
        county_wide=tuple(row for row in rows if row.county_wide and row.status == "open"),
        members=_members(rows),
        silent=tuple(silent(election, everywhere, marks, instant)),
        late=tuple(late_openings(election, everywhere, opened, instant)),
        clusters=shown,
        shared={one.alarm.kind: _shared(one, devices, places) for one in shown},
        watched=tuple(watched(material, instant)),
        numbers={row.id: row.number for row in rows},
        told=frozenset(row.id for row in rows if row.parent),
        rovers=_rovers(county, still),
        spares=tuple(
            spares(
                devices,
                [str(asset) for asset in swaps if asset],
                *hours(instant, election.opening(), election.closing()),
            )
        ),
        rings=_rings(county, election),
        cut_off=sum(row.outcome == "caller-lost" for row in rows),
        passed=_passed(county, election),
        without_history=before.elections == 0,
    )


def _shared(
    cluster: Cluster, devices: list[Device], places: Mapping[str, Place]
) -> tuple[Common, ...]:
    """What stands out beyond chance among the devices of a cluster."""
    equipment = cluster.alarm.kind.partition("|")[0]
    assets = {case.asset for case in cluster.cases if case.asset}
    tested = common(equipment, assets, devices, places)
    return tuple(one for one in tested if one.adjusted <= LEVEL)


def _members(rows: list[Row]) -> dict[str, int]:
    """How many cases each county-wide one has."""
    return Counter(row.parent for row in rows if row.parent)


def _open(cluster: Cluster, still: tuple[Row, ...]) -> bool:
    return not {case.id for case in cluster.cases}.isdisjoint(row.id for row in still)


def _rovers(county: County, still: tuple[Row, ...]) -> tuple[tuple[Account, tuple[Row, ...]], ...]:
    stops = by_rover(still)
    return tuple(
        (person, tuple(stops.get(person.login, ())))
        for person in county.people.all()
        if "rover" in person.roles
    )


def _rings(county: County, election: Election) -> int:
    """Callers who were gone before anybody answered."""
    return sum(one.incident is None for one in county.record.told("call.offered", election.id))


def _passed(county: County, election: Election) -> tuple[tuple[str, int], ...]:
    """How many calls each desk was passed."""
    ended = county.record.told("call.ended", election.id)
    desks = Counter(str(one.body["passed_to"]) for one in ended if "passed_to" in one.body)
    return tuple(sorted(desks.items()))


class Shared:
    """One text for all who ask for the same state: made by the first, waited for by the rest."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: tuple[str, str] = ("", "")

    def of(self, tag: str, make: Callable[[], str]) -> str:
        """The text of a state; `make` makes it where it is not the one kept."""
        with self._lock:
            if self._kept[0] != tag:
                self._kept = (tag, make())
            return self._kept[1]
