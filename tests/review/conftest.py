"""A small invented election: two zones, four places, and cases that meet every definition."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from datetime import date, datetime, time, timedelta, timezone
from typing import Any

import pytest

from kb.incidents.places import Device, Election, Exposure, Place
from kb.incidents.rows import Row

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
EXPOSURES = (
    Exposure(place="P1", date=DAY, ballots=500),
    Exposure(place="P2", date=DAY, ballots=300),
    Exposure(place="P3", date=DAY, ballots=0),
)
Make = Callable[..., Row]


def at(clock: str) -> datetime:
    return datetime.combine(DAY, time.fromisoformat(clock), OFFSET)


@pytest.fixture
def row() -> Make:
    """A row with nothing known but its id, and what the test says."""

    def make(identifier: str, **known: Any) -> Row:
        blank: dict[str, Any] = {field.name: None for field in fields(Row)}
        blank |= {"id": identifier, "election": "E1", "number": 1, "status": "open"}
        return Row(**blank | {"flags": frozenset()} | known)

    return make
