"""Builds the invented county: a data folder with past elections and a day in progress."""

from __future__ import annotations

import secrets
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from random import Random
from typing import Any

from kb.base.errors import StateError
from kb.demo import store
from kb.demo.clock import Today, today
from kb.demo.day import County, RollCall, events
from kb.exchange.outgoing_store import import_events
from kb.exchange.store import import_table
from kb.incidents.store.folder import Folder, create, open_folder
from kb.people.accounts import Account


@dataclass(frozen=True)
class SignIn:
    """An account to try a role with."""

    role: str
    login: str
    password: str


@dataclass(frozen=True)
class DemoCounty:
    """Where the county lies, today's election and the last one, and one sign-in for each role."""

    folder: Path
    zone: str
    election: str
    past_election: str
    sign_ins: tuple[SignIn, ...]


def build(folder: Path, now: datetime) -> DemoCounty:
    """Make the demo's data folder at `folder`, which must be new or empty.

    `now` carries this machine's offset from UTC (`datetime.now().astimezone()`), which decides
    the county's time zone. Raises StateError where something is in the folder already.
    """
    data = store.shipped()
    told = store.county(data)
    day = today(now)
    create(
        folder,
        f'county = "{told["county"]}"\nhotline = "{told["hotline"]}"\nsecond_factor = false\n',
    )
    opened = open_folder(folder)
    try:
        _import(opened, data, told, day)
        _live(opened, data, told, day)
        sign_ins = _sign_ins(opened, told["sign_in"])
    finally:
        opened.close()
    return DemoCounty(folder, day.zone, told["today"]["id"], told["past"][-1]["id"], sign_ins)


def _import(opened: Folder, data: Path, told: Mapping[str, Any], day: Today) -> None:
    """Everything that a county loads before the day, through the door that a county uses."""
    roles = frozenset({"administrator"})
    actor = Account(told["sign_in"]["administrator"], "", roles)
    record, people = opened.record, opened.people
    with tempfile.TemporaryDirectory() as name:
        scratch = Path(name)
        files = (
            ("people", data / "people.csv"),
            ("elections", store.write_elections(scratch / "elections.csv", told, day)),
            ("places", data / "places.csv"),
            ("equipment", data / "equipment.csv"),
        )
        for kind, path in files:
            import_table(record, people, kind, path, actor=actor)
        for past in told["past"]:
            source = data / past["id"]
            for kind in store.tables_of(source):
                path = scratch / f"{past['id']}-{kind}.csv"
                store.write_dated(source / f"{kind}.csv", path, day, past["days_before"])
                import_table(record, people, kind, path, actor=actor, election=past["id"])
            if (source / "events.jsonl").is_file():
                path = scratch / f"{past['id']}-events.jsonl"
                store.write_dated_events(source / "events.jsonl", path, day, past["days_before"])
                import_events(record, people, path, actor=actor, election=past["id"])


def _live(opened: Folder, data: Path, told: Mapping[str, Any], day: Today) -> None:
    """The events of the day so far. Raises StateError where the record refuses one."""
    county = County(
        election=told["today"]["id"],
        today=day,
        places={place.id: place for place in opened.record.places()},
        devices=opened.record.devices(),
        accounts={account.login: account for account in opened.people.all()},
        witness_names=told["witnesses"]["names"],
        witness_roles=told["witnesses"]["roles"],
    )
    roll_call = RollCall(told["roll_call"]["not_heard"], told["roll_call"]["late"])
    made = events(county, store.cases(data), roll_call, Random(told["seed"]))  # noqa: S311 - a script
    refused = [one for one in opened.record.append(made) if one.state == "refused"]
    if refused:
        raise StateError(f"The demo's data does not fit the record: {refused[0].message}")


def _sign_ins(opened: Folder, logins: Mapping[str, str]) -> tuple[SignIn, ...]:
    """One password for all, new for each county that is built."""
    password = secrets.token_hex(8)
    for login in logins.values():
        opened.people.set_password(login, password)
    return tuple(SignIn(role, login, password) for role, login in logins.items())
