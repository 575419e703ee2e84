"""The election day in progress: the scripted cases and the roll call, up to this moment.

What the script leaves open (seconds, who answers, counter readings, seal numbers, witnesses,
ids) comes from the seed: the same seed and the same minute give the same day.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random

from kb.demo.case import Case, Site, Told, story
from kb.demo.clock import Today
from kb.incidents.events import Event
from kb.incidents.intake import admit
from kb.incidents.places import Device, Place
from kb.people.accounts import Account

# Where the delivered seals of a device sit: the class, and which of its seals.
SEALED = {
    "memory door": ("scanner", 0),
    "scanner cover": ("scanner", 1),
    "ballot box": ("ballot-box", 0),
    "emergency compartment": ("ballot-box", 1),
}
OPENING = "07:00"
ANSWERERS = 4


@dataclass(frozen=True)
class RollCall:
    """Which places have not been heard from, and which opened late by how many minutes."""

    not_heard: Sequence[str]
    late: Mapping[str, int]


@dataclass(frozen=True)
class County:
    """Who and what takes part in the day."""

    election: str
    today: Today
    places: Mapping[str, Place]
    devices: Sequence[Device]
    accounts: Mapping[str, Account]
    witness_names: Sequence[str]
    witness_roles: Sequence[str]

    def device(self, place: str, equipment: str) -> Device | None:
        """The first device of a class at a place."""
        fits = (d for d in self.devices if d.place == place and d.equipment == equipment)
        return next(fits, None)

    def delivered_seal(self, case: Case) -> str:
        """The seal that sits on what the case opens; empty where it opens nothing."""
        if not case.opened:
            return ""
        equipment, index = SEALED[case.opened]
        device = self.device(case.place, equipment)
        assert device is not None, f"{case.place} has no {equipment}"
        return device.seals[index]

    def having(self, role: str) -> list[str]:
        """The logins that have a role."""
        return [login for login, account in self.accounts.items() if role in account.roles]


def events(
    county: County, cases: Iterable[Case], roll_call: RollCall, random: Random
) -> list[Event]:
    """Every event that has happened by now, in order of time."""
    day = _Day(county, random)
    told = [*day.marks(roll_call)]
    for case in cases:
        told += day.story(case)
    past = [event for event in told if event.received <= county.today.now]
    return sorted(past, key=lambda event: event.received)


@dataclass(frozen=True)
class _Day:
    """The county, and what decides all that the script leaves open."""

    county: County
    random: Random

    def story(self, case: Case) -> Iterator[Event]:
        """The events of one case."""
        reported = case.reported(self.county.today) + timedelta(seconds=self.random.randrange(20))
        site = self._site(case, reported)
        incident = self._new_id()
        for told in story(case, site):
            after = timedelta(minutes=told.minute, seconds=self.random.randrange(8))
            yield self._event(told, reported + after, incident)

    def marks(self, roll_call: RollCall) -> Iterator[Event]:
        """Places say that they are ready, then that they are open."""
        at = self.county.today.at
        for place in self.county.places:
            if place in roll_call.not_heard:
                continue
            ready = at("06:30") + timedelta(minutes=self.random.uniform(-20, 20))
            late = roll_call.late.get(place, 0) + self.random.uniform(0, 0.7)
            for kind, happened in (
                ("place.ready", ready),
                ("place.opened", at(OPENING) + timedelta(minutes=late)),
            ):
                yield self._event(Told(0, self._answerer(), kind, {"place": place}), happened, None)

    def _site(self, case: Case, reported: datetime) -> Site:
        county, random = self.county, self.random
        device = county.device(case.place, case.equipment)
        elapsed = max(timedelta(), reported - county.today.at(OPENING))
        return Site(
            phone=county.places[case.place].phone or "",
            asset=device.asset if device else None,
            call=self._new_id(),
            answerer=self._answerer(),
            lead=county.having("lead")[0],
            counter=int(elapsed / timedelta(minutes=1) * random.uniform(0.4, 0.9)),
            phase=_phase(county.today, reported),
            started=reported - timedelta(minutes=random.randrange(1, 7)),
            seal_off=county.delivered_seal(case),
            seal_on=f"K{random.randrange(31000, 39999)}",
            witnesses=tuple(
                {"name": name, "role": random.choice(county.witness_roles)}
                for name in random.sample(county.witness_names, case.witnesses)
            ),
        )

    def _event(self, told: Told, happened: datetime, incident: str | None) -> Event:
        """An event that came in seconds after it happened, through the door of the record."""
        entry = {
            "id": self._new_id(),
            "election": self.county.election,
            "incident": incident,
            "kind": told.kind,
            "happened": happened.isoformat(),
            "body": told.body,
        }
        received = happened + timedelta(seconds=self.random.randrange(1, 5))
        return admit(entry, actor=self.county.accounts[told.actor], received=received)

    def _answerer(self) -> str:
        return self.random.choice(self.county.having("hotline")[:ANSWERERS])

    def _new_id(self) -> str:
        return str(uuid.UUID(int=self.random.getrandbits(128), version=4))


def _phase(today: Today, reported: datetime) -> str:
    opening = today.at(OPENING)
    if reported < opening - timedelta(minutes=30):
        return "set-up"
    return "opening" if reported < opening + timedelta(minutes=5) else "voting"
