"""Devices' own logs by NIST SP 1500-101, version 1: its schemas judge what we read.

The instances and their verdicts were written for tests and measured with the published schema;
NIST ships no sample (tests/fixtures/cdf, notice in kb/exchange/schemas).
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from kb.base.errors import InputError, Problems, Refused
from kb.exchange.devicelog import is_cast, parse
from kb.exchange.devicelog_store import take
from kb.incidents.store.folder import Folder
from kb.people.accounts import Account
from tests.exchange.conftest import MANAGER, Take

HERE = Path(__file__).parents[1] / "fixtures" / "cdf"
OWN = json.loads((HERE / "eel_instances_own.json").read_text(encoding="utf-8"))
VALID: dict[str, Any] = OWN["valid_log"]


def as_json(told: object) -> bytes:
    return json.dumps(told).encode()


def changed(**members: str) -> bytes:
    """The valid log with other members in its first event."""
    told = json.loads(as_json(VALID))
    told["Device"][0]["Event"][0] |= members
    return as_json(told)


def test_the_valid_log_becomes_rows() -> None:
    log = parse(as_json(VALID), "log.json")
    assert log.devices == ("SCAN-0001",)
    first = log.events[0]
    assert (first.id, first.disposition, first.severity) == ("paper-jam", "failure", "medium")
    assert first.at.isoformat() == "2026-11-03T07:12:05-05:00"
    assert "rover-07" not in str(log)


def test_the_valid_log_in_xml_becomes_rows() -> None:
    log = parse((HERE / "eel_instance_own.xml").read_bytes(), "log.xml")
    assert [(one.device, one.id, one.sequence) for one in log.events] == [
        ("SCAN-0001", "paper-jam", "1")
    ]


@pytest.mark.parametrize("case", OWN["mutations"], ids=lambda case: case["name"])
def test_each_mutation_is_judged_as_the_schema_judges_it(case: dict[str, Any]) -> None:
    data = as_json(case["instance"])
    # One that the schema lets pass lacks what the specification asks for (section 3.1.3).
    if case["valid"] and "OtherDisposition" not in case["name"]:
        assert parse(data, "log.json").election == "2026-general"
    else:
        with pytest.raises(Problems):
            parse(data, "log.json")


BOMB = (
    b'<!DOCTYPE a [<!ENTITY b "ha"><!ENTITY c "&b;&b;">]><ElectionEventLog>&c;</ElectionEventLog>'
)
OUTSIDE = b'<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/hostname">]><ElectionEventLog>&b;</ElectionEventLog>'


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is not JSON"),
        (b"{", "is not JSON"),
        ('{"a": "é"}'.encode("latin-1"), "is not JSON in UTF-8"),
        (b"[" * 200_000, "is not JSON"),
        (b"[]", "is not of type"),
        (as_json(OWN["valid_documentation"]), "@type"),
        (b"<ElectionEventLog>", "is not XML"),
        (b"<a/>", "not an element of the schema"),
        (BOMB, "declares entities"),
        (OUTSIDE, "declares entities"),
        (changed(TimeStamp="2026-11-03T07:12:05"), "--zone"),
        (changed(TimeStamp="yesterday"), "is not a time"),
        (changed(Disposition="other"), "OtherDisposition is missing"),
        (changed(Surprise="x"), "Surprise"),
    ],
)  # fmt: skip
def test_what_is_no_log_is_told(data: bytes, says: str) -> None:
    with pytest.raises(Problems, match=says):
        parse(data, "log")


def test_a_clock_without_an_offset_is_read_in_the_zone_that_is_named() -> None:
    log = parse(changed(TimeStamp="2026-11-03T07:12:05"), "log", "America/Denver")
    assert log.events[0].at.isoformat() == "2026-11-03T07:12:05-07:00"


@pytest.mark.parametrize(
    ("words", "cast"),
    [
        (("ballot-cast", "vote"), True),
        (("BallotAccepted", "x", "Ballot accepted"), True),
        (("sheet_scanned", ""), True),
        (("cvr-written", ""), True),
        (("vote recorded", ""), True),
        (("paper-jam", "device-error"), False),
        (("power-lost", "", "running on battery"), False),
        (("door-open", "", "ballot box door open"), False),
    ],
)
def test_events_about_a_ballot_are_marked(words: tuple[str, ...], cast: bool) -> None:
    assert is_cast(*words) is cast


def test_a_log_is_taken_once_and_told_in_the_ledger(
    loaded: Take, folder: Folder, tmp_path: Path
) -> None:
    assert loaded
    path = tmp_path / "log.json"
    path.write_bytes(as_json(VALID))
    report = take(folder, path, actor=MANAGER, election="E2")
    assert (report.new, report.same, len(report.warnings)) == (2, 0, 1)
    assert "no device 'SCAN-0001' is known" in str(report.warnings[0])
    again = take(folder, path, actor=MANAGER, election="E2")
    assert (again.new, again.same) == (0, 2)
    (entry,) = folder.record.told("log.received", "E2")
    assert (entry.body["asset"], entry.body["events"]) == ("SCAN-0001", 2)
    assert len(folder.devicelogs.of("E2", ["SCAN-0001"])) == 2


def test_a_log_without_a_device_says_so(loaded: Take, folder: Folder, tmp_path: Path) -> None:
    assert loaded
    path = tmp_path / "log.json"
    path.write_bytes(as_json({name: told for name, told in VALID.items() if name != "Device"}))
    with pytest.raises(InputError, match="names no device"):
        take(folder, path, actor=MANAGER, election="E2")


def test_their_number_becomes_ours(loaded: Take, folder: Folder, tmp_path: Path) -> None:
    assert loaded
    path = tmp_path / "log.json"
    path.write_bytes(as_json(VALID))
    report = take(folder, path, actor=MANAGER, election="E2", assets={"SCAN-0001": "SC-1"})
    assert report.warnings == ()
    assert [one.id for one in folder.devicelogs.of("E2", ["SC-1"])] == [
        "paper-jam",
        "paper-jam-cleared",
    ]


def test_check_takes_nothing_and_who_may_not_is_refused(
    loaded: Take, folder: Folder, tmp_path: Path
) -> None:
    assert loaded
    path = tmp_path / "log.json"
    path.write_bytes(as_json(VALID))
    size = folder.record.size()
    assert take(folder, path, actor=MANAGER, election="E2", check=True).new == 2
    with pytest.raises(Refused):
        take(folder, path, actor=Account("h", "H", frozenset({"hotline"})), election="E2")
    assert folder.record.size() == size
    assert folder.devicelogs.of("E2", ["SCAN-0001"]) == []
