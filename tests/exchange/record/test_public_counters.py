"""A device's counters in the public copy: none from which a few voters could be told."""

from __future__ import annotations

import base64
import json

import pytest

from kb.exchange.record import content, public
from kb.exchange.record.counters import close
from kb.exchange.record.policy import policy
from kb.exchange.record.public import Policy, withheld
from kb.exchange.record.verify import verify
from kb.incidents.events import Event
from kb.incidents.store.folder import Folder
from tests.exchange.record.conftest import Export
from tests.incidents.telling import HOTLINE, entry, event, row

OPEN = Policy({}, {}, {})


def read(number: int, *, asset: str | None = "S1", case: str = "case-1") -> Event:
    told: dict[str, object] = {"public": number} | ({"asset": asset} if asset else {})
    return event("counter.read", told, incident=case)


def device(number: int) -> Event:
    told = {"asset": "S1", "equipment": "scanner", "public_counter": number}
    return row("device.recorded", told)


def test_a_protective_counter_is_never_told() -> None:
    told = event("counter.read", {"asset": "S1", "public": 1200, "protective": 51200})
    assert withheld(told, OPEN)["body.protective"] == public.PROTECTIVE
    body = {"asset": "S1", "equipment": "scanner", "protective_counter": 51200}
    hidden = withheld(row("device.recorded", body), OPEN)
    assert hidden["body.protective_counter"] == public.PROTECTIVE


@pytest.mark.parametrize(
    ("events", "gone"),
    [
        ([read(1200), read(7)], 2),
        ([read(1200), read(1207)], 2),
        ([read(1200), read(1500), read(1203, case="case-2")], 3),
        ([read(1200), device(1203)], 2),
        ([device(7), read(1200)], 2),
        ([event("incident.reported", {"asset": "S1"}), read(1203, asset=None), device(1200)], 2),
        ([read(1200, asset=None), read(1203, asset=None)], 2),
        ([read(1200), read(1200), read(1210), device(0)], 0),
        ([read(1200), read(1203, asset="S2")], 0),
        ([read(1200, asset=None), read(1203, asset=None, case="case-2")], 0),
    ],
)
def test_a_small_reading_or_difference_closes_all_of_a_devices_public_counters(
    events: list[Event], gone: int
) -> None:
    rules = policy(events, {}, close(events))
    hidden = [
        name
        for one in events
        for name, why in withheld(one, rules).items()
        if why == public.SMALL and name.startswith("body.public")
    ]
    assert len(hidden) == gone


def test_the_copy_holds_a_reading_against_the_countys_row(folder: Folder, export: Export) -> None:
    folder.record.append([device(1200)])
    told = entry("counter.read", {"asset": "S1", "public": 1203, "protective": 51203})
    folder.record.take([told], HOTLINE)
    files = export(folder, "e26", public=True)
    assert verify(files).faults == []
    shown = [
        json.loads(base64.urlsafe_b64decode(one + "=" * (-len(one) % 4)))[1]
        for where in ("", content.COUNTY)
        for told in json.loads(files[where + content.DISCLOSURES]).values()
        for one in told
    ]
    assert "body.asset" in shown
    assert not [name for name in shown if "public" in name or "protective" in name]
