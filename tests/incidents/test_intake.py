from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from kb.base.errors import Problems, Refused
from kb.incidents.intake import admit, imported
from kb.incidents.kinds import KINDS
from tests.incidents.telling import HOTLINE, OPENING, ROVER, at, entry, person


def faults(told: dict[str, object]) -> list[str]:
    with pytest.raises(Problems) as caught:
        admit(told, actor=person("manager"), received=OPENING)
    return sorted(problem.field for problem in caught.value.problems)


def test_a_plain_entry() -> None:
    body = {"effect": "slowed", "flags": ["custody", "access"]}
    told = entry("incident.described", body, sent="2026-11-03T12:00:00Z")
    event = admit(told, actor=HOTLINE, received=at(1))
    assert (event.id, event.election, event.incident) == (told["id"], "e26", "case-1")
    assert (event.happened, event.sent, event.received) == (OPENING, OPENING, at(1))
    assert event.actor == "ho01"
    assert event.body == {"effect": "slowed", "flags": ["access", "custody"]}


def test_the_actor_is_the_session_not_the_phones_word() -> None:
    assert faults(entry("note.added", {"text": "x"}, actor="ma01")) == ["actor"]


def test_times_are_kept_to_the_millisecond() -> None:
    told = entry("note.added", {"text": "x"}, happened="2026-11-03T07:00:00.123999-05:00")
    event = admit(told, actor=HOTLINE, received=OPENING + timedelta(microseconds=1500))
    assert event.happened.microsecond == 123000
    assert event.received.microsecond == 1000


def test_without_a_time_of_sending_the_clock_counts_as_right() -> None:
    told = entry("note.added", {"text": "x"})
    assert admit(told, actor=HOTLINE, received=at(9)).sent == at(9)


def test_empty_means_not_known() -> None:
    told = entry("rover.sent", {"rover": "ro01", "reason": ""})
    assert admit(told, actor=HOTLINE, received=OPENING).body == {"rover": "ro01"}
    told = entry("rover.sent", {"rover": "ro01", "reason": None})
    assert admit(told, actor=HOTLINE, received=OPENING).body == {"rover": "ro01"}


def test_all_faults_at_once() -> None:
    told = entry(
        "incident.described",
        {"effect": "awful", "wait_minutes": "10", "flags": ["loud"], "color": "red"},
        id="1",
        election=None,
        happened="yesterday",
        sent=7,
        extra=1,
    )
    expected = ["color", "effect", "election", "extra", "flags", "happened", "id", "sent"]
    assert faults(told) == [*expected, "wait_minutes"]


@pytest.mark.parametrize(
    ("told", "fields"),
    [
        (entry("incident.exploded"), ["kind"]),
        (entry("note.added", {"text": "x"}, kind=7), ["kind"]),
        (entry("note.added", {"text": "x"}, body=[1]), ["body"]),
        (entry("note.added", {"text": "x"}, id="A" * 36), ["id"]),
        (entry("note.added", {"text": "x"}, id="00000000-0000-1000-8000-000000000000"), ["id"]),
        (entry("note.added", {"text": "x"}, id=None), ["id"]),
        (entry("note.added", {"text": "x"}, happened=None), ["happened"]),
        (entry("note.added", {"text": "x"}, happened="2026-11-03T07:00:00"), ["happened"]),
        (entry("note.added", {"text": "x"}, happened="0001-01-01T00:00:00+14:00"), ["happened"]),
        (entry("note.added", {"text": "x"}, sent="9999-12-31T23:59:59-14:00"), ["sent"]),
        (entry("note.added", {"text": "x"}, incident="two words"), ["incident"]),
        (entry("rover.sent", {"rover": "ro01"}, incident=None), ["incident"]),
        (entry("place.opened", {"place": "P01"}), ["incident"]),
        (entry("note.added", {}), ["text"]),
        (entry("note.added", {"text": " "}), ["text"]),
        (entry("note.added", {"text": "\ud800"}), [""]),
        (entry("counter.read", {"public": 2**60}), [""]),
        (entry("counter.read", {"public": -1}), ["public"]),
        (entry("counter.read", {"public": True}), ["public"]),
        (entry("counter.read", {"public": 1, "moment": "during"}), ["moment"]),
        (entry("incident.reported", {"started": "7 o'clock"}), ["started"]),
        (entry("incident.merged", {}), [""]),
        (entry("text.withheld", {"event": "x", "reason": "r", "members": ["symptom"]}), [""]),
    ],
)
def test_a_fault_and_its_field(told: dict[str, object], fields: list[str]) -> None:
    assert faults(told) == fields


def test_a_deeply_nested_body_is_a_fault_not_a_crash() -> None:
    deep: object = "x"
    for _ in range(5000):
        deep = [deep]
    assert faults(entry("event.corrected", {"event": "x", "replacement": {"a": deep}})) == [""]


def test_messages_say_what_to_do() -> None:
    told = entry("incident.described", {"effect": "awful"})
    with pytest.raises(Problems, match="use one of stopped, slowed, device, none"):
        admit(told, actor=HOTLINE, received=OPENING)


def test_a_wrong_role_is_refused_by_name() -> None:
    with pytest.raises(Refused, match=r"ro01 may not enter incident.merged.*hotline, lead, man"):
        admit(entry("incident.merged", {"into": "x"}), actor=ROVER, received=OPENING)


def test_a_disabled_account_enters_nothing() -> None:
    gone = replace(HOTLINE, disabled=True)
    with pytest.raises(Refused, match="is disabled"):
        admit(entry("note.added", {"text": "x"}), actor=gone, received=OPENING)


def test_rows_of_the_county_belong_to_no_election() -> None:
    told = entry("place.recorded", {"place": "P1", "name": "Hall"}, incident=None)
    assert faults(told) == ["election"]
    told["election"] = None
    assert admit(told, actor=person("manager"), received=OPENING).election is None


def test_a_line_of_a_file_has_the_same_id_each_time() -> None:
    line = {"kind": "place.recorded", "happened": "2026-10-01T12:00:00Z",
            "body": {"place": "P1", "name": "Hall"}}  # fmt: skip
    first = imported(line, importer="ma01", received=at(0))
    spelled = line | {"happened": "2026-10-01T08:00:00-04:00"}
    again = imported(spelled, importer="ma01", received=at(5))
    other = imported(line | {"actor": "ma02"}, importer="ma01", received=at(0))
    assert first.id == again.id != other.id
    assert len(first.id) == 64
    assert first.imported


def test_a_faulty_line_names_its_place() -> None:
    line = {"kind": "place.recorded", "happened": "x", "body": {"place": "P 1"}, "id": "7"}
    with pytest.raises(Problems) as caught:
        imported(line, importer="ma01", received=at(0), where="places.csv:7")
    assert {problem.where for problem in caught.value.problems} == {"places.csv:7"}
    fields = {problem.field for problem in caught.value.problems}
    assert fields == {"happened", "id", "name", "place"}


def test_every_kind_says_what_it_means() -> None:
    for kind, model in KINDS.items():
        assert kind in (model.__doc__ or "") or "row of" in (model.__doc__ or ""), kind
