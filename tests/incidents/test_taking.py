"""Taking entries: receipts, idempotence, and what the record as it stands refuses."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor

import pytest
import sqlite_utils

from kb.base.database import Store
from kb.base.errors import Problems
from kb.incidents.events import from_json
from kb.incidents.leaf import leaf, leaf_hash
from kb.incidents.store import Record
from tests.incidents.telling import HOTLINE, LEAD, ROVER, entry, person, row


def take(record: Record, *entries: dict[str, object]) -> list[tuple[str, int | None]]:
    return [(one.state, one.sequence) for one in record.take(entries, HOTLINE)]


def test_new_entries_are_numbered_without_gaps_in_their_log(record: Record) -> None:
    notes = [entry("note.added", {"text": str(n)}) for n in range(3)]
    other = entry("note.added", {"text": "then"}, election="e24", incident="old-1")
    assert take(record, notes[0], other, notes[1]) == [("new", 1), ("new", 2), ("new", 2)]
    assert take(record, notes[2]) == [("new", 3)]
    assert [event.id for event in record.events(election="e26")] == [note["id"] for note in notes]
    assert [event.kind for event in record.events()][:2] == ["election.recorded"] * 2


def test_the_same_entry_again_is_acknowledged_with_its_number(record: Record) -> None:
    told = entry("note.added", {"text": "x"})
    retry = told | {"sent": "2026-11-03T14:00:00Z"}
    spelled = told | {"happened": "2026-11-03T07:00:00.000-05:00"}
    assert take(record, told, told) == [("new", 1), ("same", 1)]
    assert take(record, retry, spelled) == [("same", 1), ("same", 1)]
    assert record.size() == len(record.events()) + len(record.events("e24")) + 1


@pytest.mark.parametrize(
    ("change", "shown"),
    [
        ({"body": {"text": "y"}}, 'body is {"text": "y"}, stored is {"text": "x"}'),
        ({"happened": "2026-11-03T12:00:01Z"}, "happened is"),
        ({"incident": "case-2"}, 'incident is "case-2", stored is "case-1"'),
        ({"election": "e24", "incident": None}, 'election is "e24", stored is "e26"'),
        ({"kind": "decision.made"}, 'kind is "decision.made"'),
    ],
)
def test_the_same_id_with_other_content_is_refused_and_shown(
    record: Record, change: dict[str, object], shown: str
) -> None:
    told = entry("note.added", {"text": "x"})
    record.take([told], LEAD)
    (receipt,) = record.take([told | change], LEAD)
    assert (receipt.state, receipt.sequence) == ("refused", 1)
    assert shown in receipt.message
    assert [event.body for event in record.events("e26")] == [{"text": "x"}]


def test_somebody_elses_id_is_refused(record: Record) -> None:
    told = entry("note.added", {"text": "x"})
    record.take([told], HOTLINE)
    (receipt,) = record.take([told], ROVER)
    assert 'actor is "ro01", stored is "ho01"' in receipt.message


def test_a_faulty_entry_hinders_no_other(record: Record) -> None:
    good, also = entry("note.added", {"text": "a"}), entry("note.added", {"text": "b"})
    receipts = record.take(
        [
            good,
            entry("incident.exploded"),
            entry("rover.sent", {"rover": ""}, election="e99"),
            entry("decision.made", {"text": "not mine to make"}),
            entry("note.added", {"text": "c"}, election="e99", incident="case-9"),
            also,
            {},
        ],
        HOTLINE,
    )
    states = ["new", "refused", "refused", "refused", "refused", "new", "refused"]
    assert [receipt.state for receipt in receipts] == states
    messages = [receipt.message for receipt in receipts]
    assert "no event kind is called 'incident.exploded'" in messages[1]
    assert "rover: is missing" in messages[2]
    assert "ho01 may not enter decision.made" in messages[3]
    assert "there is no election 'e99'" in messages[4]
    assert len(record.events("e26")) == 2


def test_what_is_no_entry_at_all_is_refused(record: Record) -> None:
    receipts = record.take(["x", None], HOTLINE)  # type: ignore[list-item]
    assert [receipt.state for receipt in receipts] == ["refused"] * 2
    assert "an entry is a JSON object, not 'x'" in receipts[0].message


def test_an_entry_of_a_case_under_another_election_is_refused(record: Record) -> None:
    record.take([entry("note.added", {"text": "a"})], HOTLINE)
    (receipt,) = record.take([entry("note.added", {"text": "b"}, election="e24")], HOTLINE)
    assert "incident case-1 belongs to election 'e26', not to 'e24'" in receipt.message


def correct(target: object, replacement: object, **more: object) -> dict[str, object]:
    body = {"event": target, "replacement": replacement, "reason": "heard wrong"}
    return entry("event.corrected", body) | more


def test_a_correction_is_checked_against_what_it_corrects(record: Record) -> None:
    told = entry("incident.described", {"wait_minutes": 121})
    record.take([told], HOTLINE)
    wrong, right = (
        correct(told["id"], {"wait_minutes": "112"}),
        correct(told["id"], {"wait_minutes": 112}),
    )
    refused, taken = record.take([wrong, right], HOTLINE)
    assert "wait_minutes: Input should be a valid integer" in refused.message
    assert taken.state == "new"
    incident = record.incident("case-1")
    assert incident is not None
    assert incident.wait_minutes == 112


def test_one_corrects_ones_own_and_a_lead_anybodys(record: Record) -> None:
    told = entry("note.added", {"text": "x"})
    record.take([told], HOTLINE)
    (refused,) = record.take([correct(told["id"], {"text": "y"})], ROVER)
    assert "was entered by ho01" in refused.message
    (taken,) = record.take([correct(told["id"], {"text": "y"})], LEAD)
    assert taken.state == "new"


def test_a_correction_stays_within_its_case(record: Record) -> None:
    told = entry("note.added", {"text": "x"})
    record.take([told], HOTLINE)
    (receipt,) = record.take([correct(told["id"], {"text": "y"}, incident="case-2")], HOTLINE)
    assert "belongs to another incident" in receipt.message


def test_a_correction_may_come_before_what_it_corrects(record: Record) -> None:
    told = entry("note.added", {"text": "x"})
    assert take(record, correct(told["id"], {"text": "y"}), told) == [("new", 1), ("new", 2)]
    incident = record.incident("case-1")
    assert incident is not None
    assert incident.note == "y"


def test_nothing_half_done(record: Record, store: Store) -> None:
    """Where the projection cannot be written, the ledger is not either."""

    def break_projection(database: sqlite_utils.Database) -> None:
        database.execute(
            "CREATE TRIGGER broken BEFORE INSERT ON incidents "
            "BEGIN SELECT RAISE(ABORT, 'disk full'); END"
        )

    before = (record.size(), record.version(), record.digest())
    store.write(break_projection)
    with pytest.raises(Exception, match="disk full"):
        record.take([entry("note.added", {"text": "x"})], HOTLINE)
    assert (record.size(), record.version(), record.digest()) == before


def test_what_is_stored_gives_the_leaf_again(record: Record, store: Store) -> None:
    record.take([entry("note.added", {"text": "größer"})], HOTLINE)
    rows = list(store.read().query("SELECT * FROM ledger"))
    assert len(rows) == record.size() > 3
    for stored in rows:
        event = from_json(stored["event"])
        assert leaf(event, json.loads(stored["salts"])) == stored["leaf"]
        assert leaf_hash(stored["leaf"]) == stored["hash"]
        assert event.to_json() == stored["event"]


def test_imported_rows_are_marked_and_taken_once(empty: Record) -> None:
    body = {"place": "P01", "name": "Hall"}
    first = row("place.recorded", body)
    assert [one.state for one in empty.append([first, first])] == ["new", "same"]
    assert empty.events()[0].imported
    renamed = row("place.recorded", body | {"name": "New Hall"}, minute=-10)
    empty.append([renamed])
    assert [place.name for place in empty.places()] == ["New Hall"]
    assert len(empty.events()) == 2


def test_many_threads_at_once(record: Record) -> None:
    def tell(worker: int) -> list[tuple[str, int | None]]:
        entries = [
            entry("note.added", {"text": f"{worker}/{n}"}, incident=f"case-{worker}")
            for n in range(5)
        ]
        return [one for told in entries for one in take(record, told)]

    with ThreadPoolExecutor(8) as pool:
        told = [one for results in pool.map(tell, range(8)) for one in results]
    assert sorted(told, key=str) == sorted([("new", n + 1) for n in range(40)], key=str)
    numbers = [record.number(f"case-{worker}") for worker in range(8)]
    assert sorted(number for number in numbers if number) == list(range(1, 9))


def test_who_has_no_role_gets_a_receipt_that_says_so(record: Record) -> None:
    (receipt,) = record.take([entry("note.added", {"text": "x"})], person("canvass"))
    assert receipt.state == "refused"
    assert "it takes one of the roles hotline, lead, manager, rover" in receipt.message


HALF = "\ud800"


@pytest.mark.parametrize(
    "bad",
    [
        {"election": HALF},
        {"incident": HALF},
        {"kind": HALF},
        {"id": HALF},
        {"happened": HALF},
        {HALF: "x"},
        {"body": {HALF: "x"}},
        {"body": {"text": HALF}},
        {"kind": "event.corrected", "body": {"event": HALF}},
        {"kind": "event.corrected", "body": {"event": "x", "replacement": {HALF: HALF}}},
        {"kind": "event.corrected", "body": {"event": "x", "replacement": {"a": [{HALF: 1}]}}},
    ],
)
def test_half_a_sign_is_refused_and_hinders_no_other(
    record: Record, bad: dict[str, object]
) -> None:
    good = entry("note.added", {"text": "x"})
    refused, taken = record.take([entry("note.added", {"text": "y"}) | bad, good], HOTLINE)
    assert (refused.state, taken.state) == ("refused", "new")
    assert (refused.id + refused.message).encode("utf-8")


def test_half_a_sign_in_a_file_is_told_with_its_line() -> None:
    with pytest.raises(Problems, match=r"places.csv:2 ENTRY actor: must be a login"):
        row("note.added", {"text": "x"}, election="e26", incident="case-1", actor=HALF)


@pytest.mark.parametrize("name", ["a/b", "..", ".", "<b>", "~", "a\x00b", "?x=1", "%2e", "-a", "ä"])
def test_a_new_incident_has_an_id_that_can_be_opened(record: Record, name: str) -> None:
    told = entry("note.added", {"text": "x"}, incident=name)
    (refused,) = record.take([told], HOTLINE)
    assert f"'{name}' cannot be the id of a new incident" in refused.message
    # What a file called it stays its name, and the case is worked on.
    record.append([row("note.added", {"text": "y"}, election="e26", incident=name)])
    assert record.take([told], HOTLINE)[0].state == "new"


@pytest.mark.parametrize("name", ["7", "A-1_b.c:d", "f47ac10b-58cc-4372-a567-0e02b2c3d479"])
def test_a_plain_id_is_taken(record: Record, name: str) -> None:
    told = entry("note.added", {"text": "x"}, incident=name)
    assert record.take([told], HOTLINE)[0].state == "new"
