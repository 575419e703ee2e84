"""A small invented election, and cases in a line: nothing is known but what a test says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time, timedelta, timezone
from typing import Any

from kb.incidents.places import Device, Election, Place
from kb.review.rows import UNKNOWN, Call, Case, Material, Turnout

DAY = date(2026, 5, 5)
OFFSET = timezone(timedelta(hours=-5))
ELECTION = Election(
    election="E1", name="Spring", date=DAY, time_zone="Etc/GMT+5", opens=time(7), closes=time(20)
)
PLACES = (
    Place(place="P1", name="One", zone="East"),
    Place(place="P2", name="Two", zone="East"),
    Place(place="P3", name="Three", zone="West"),
    Place(place="P4", name="Four"),
)
DEVICES = (
    Device(asset="SC-1", equipment="scanner", place="P1"),
    Device(asset="SC-2", equipment="scanner", place="P2"),
    Device(asset="SC-3", equipment="scanner", spare=True),
    Device(asset="SC-4", equipment="scanner", place="P3", spare=True),
    Device(asset="BM-1", equipment="bmd", place="P1"),
)
BALLOTS = {"P1": 500, "P2": 300, "P3": 0}
_ZONES = {place.id: place.zone or UNKNOWN for place in PLACES}
_NOTHING: dict[str, Any] = dict.fromkeys(Case._fields) | {
    "equipment": UNKNOWN,
    "symptom": UNKNOWN,
    "phase": UNKNOWN,
    "effect": UNKNOWN,
    "flags": "",
}


def at(clock: str, days: int = 0) -> datetime:
    """A time of the voting day, or of a later one."""
    return datetime.combine(DAY + timedelta(days=days), time.fromisoformat(clock), OFFSET)


def case(identifier: str, **known: Any) -> Case:
    """A case of which nothing is told but its id and this; its zone is that of its place."""
    zone = _ZONES.get(known.get("place") or "")
    return Case(**_NOTHING | {"id": identifier, "zone": zone} | known)


def turnout(ballots: Mapping[str, int | None]) -> dict[str, Turnout]:
    """One sheet and one check-in a ballot; nothing of when places opened."""
    return {place: Turnout(number, number, number, None) for place, number in ballots.items()}


def material(cases: Iterable[Case] = (), **known: Any) -> Material:
    """Material of the small election, or of what the test says instead."""
    told: dict[str, Any] = {
        "election": ELECTION,
        "places": {place.id: place for place in PLACES},
        "devices": DEVICES,
        "turnout": turnout(BALLOTS),
    }
    return Material(cases=tuple(cases), **told | known)


def call(identifier: str, started: datetime, wait: float | None = 5, **known: Any) -> Call:
    """A call of three minutes, answered after some seconds or not at all."""
    answered = None if wait is None else started + timedelta(seconds=wait)
    ended = answered + timedelta(minutes=3) if answered else started + timedelta(minutes=1)
    told: dict[str, Any] = {"place": None, "incident": None, "answered": answered, "ended": ended}
    return Call(id=identifier, started=started, **told | known)
