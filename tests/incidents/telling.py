"""What the tests of the record tell it: an invented county, its people, its entries."""

from __future__ import annotations

import itertools
import uuid
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from kb.base.clock import format_instant
from kb.incidents.events import Event
from kb.incidents.intake import admit, imported
from kb.people.accounts import Account

# 7:00 in the morning of the invented day, on a wall clock in New York.
OPENING = datetime(2026, 11, 3, 12, 0, tzinfo=UTC)
HASH = "0" * 64


def person(*roles: str, login: str = "") -> Account:
    return Account(login or "-".join(roles) or "nobody", "Invented Person", frozenset(roles))


HOTLINE = person("hotline", login="ho01")
LEAD = person("lead", login="le01")
ROVER = person("rover", login="ro01")
MANAGER = person("manager", login="ma01")


def at(minute: float) -> datetime:
    return OPENING + timedelta(minutes=minute)


def entry(
    kind: str, body: Mapping[str, object] | None = None, /, **override: Any
) -> dict[str, object]:
    """An entry as a client sends it, at the opening; `minute` moves it.

    Without a time of sending the client's clock counts as right.
    """
    when = format_instant(at(override.pop("minute", 0)))
    plain: dict[str, object] = {
        "id": str(uuid.uuid4()),
        "election": "e26",
        "incident": "case-1",
        "kind": kind,
        "happened": when,
        "body": body or {},
    }
    return plain | override


_ids = itertools.count(1)


def event(
    kind: str,
    body: Mapping[str, object] | None = None,
    *,
    minute: float = 0,
    actor: str = "ho01",
    skew: float = 0,
    received: float | None = None,
    **override: Any,
) -> Event:
    """An admitted event; `skew` minutes is how far the teller's clock is behind."""
    arrival = minute + skew if received is None else received
    told = entry(kind, body, minute=minute, **override)
    told["id"] = override.get("id") or str(uuid.UUID(int=next(_ids), version=4))
    told["sent"] = format_instant(at(arrival - skew))
    everything = person("manager", "rover", login=actor)
    return admit(told, actor=everything, received=at(arrival))


def row(kind: str, body: Mapping[str, object], *, minute: float = -600, **scope: Any) -> Event:
    """An event as an import makes it."""
    line = {"kind": kind, "happened": format_instant(at(minute)), "body": body} | scope
    return imported(line, importer="ma01", received=at(minute), where="places.csv:2")


def county() -> list[Event]:
    """Two elections, two places, their devices, some turnout."""
    elections = (("e24", "2024-11-05"), ("e26", "2026-11-03"))
    places = (
        ("P01", "Ombrick Hall", "7 Yarrow Row", "555-0101", "0001 0002"),
        ("P02", "Varnsel School", "12 Mill Lane", "555-0102", "0003"),
    )
    return [
        *(
            row("election.recorded", {
                "election": name, "name": f"General {day[:4]}", "date": day,
                "time_zone": "America/New_York", "opens": "07:00", "closes": "20:00",
            })
            for name, day in elections
        ),
        *(
            row("place.recorded", {
                "place": place, "name": name, "address": address, "zone": "north",
                "phone": phone, "precincts": precincts.split(), "latitude": 40.5,
            })
            for place, name, address, phone, precincts in places
        ),
        row("device.recorded", {"asset": "SC001", "equipment": "scanner", "place": "P01"}),
        row("device.recorded", {"asset": "SC002", "equipment": "scanner", "spare": True}),
        row("exposure.recorded", {"place": "P01", "date": "2024-11-05", "ballots": 812},
            election="e24"),
    ]  # fmt: skip
