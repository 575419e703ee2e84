"""Lists, numbers, places, roll call, drafts and texts: what pages ask of the record."""

from __future__ import annotations

import pytest

from kb.base.errors import InputError
from kb.base.ids import fingerprint
from kb.incidents.store import Record
from tests.incidents.telling import HOTLINE, LEAD, ROVER, at, entry, event, row


@pytest.fixture
def busy(record: Record) -> Record:
    """Four cases: a jam, a stopped place, a closed one, one that nobody reported."""
    told = [
        event("incident.reported", {"place": "P01", "equipment": "scanner", "phase": "voting"},
              incident="jam"),
        event("incident.described", {
            "effect": "device", "symptom": "jam", "words": "Paper stuck, GRÖẞER",
        }, incident="jam"),
        event("incident.reported", {"place": "P02", "equipment": "epollbook", "phase": "voting"},
              incident="dark", minute=10),
        event("incident.described", {"effect": "stopped", "flags": ["access"]},
              incident="dark", minute=11),
        event("rover.sent", {"rover": "ro01"}, incident="dark", minute=12),
        event("incident.reported", {"place": "P01", "equipment": "scanner"},
              incident="done", minute=20),
        event("incident.closed", {"outcome": "fixed-by-phone"}, incident="done", minute=25),
        event("seal.removed", {"seal": "K1"}, incident="quiet", minute=30, actor="ro01"),
    ]  # fmt: skip
    assert {receipt.state for receipt in record.append(told)} == {"new"}
    return record


def ids(busy: Record, **filters: str) -> list[str]:
    return [found.id for found in busy.incidents("e26", now=at(60), **filters)]


def test_open_ones_by_priority_and_age_then_closed_ones(busy: Record) -> None:
    assert ids(busy) == ["dark", "jam", "quiet", "done"]


@pytest.mark.parametrize(
    ("filters", "expected"),
    [
        ({"place": "P01"}, ["jam", "done"]),
        ({"zone": "north"}, ["dark", "jam", "done"]),
        ({"zone": "south"}, []),
        ({"equipment": "epollbook"}, ["dark"]),
        ({"phase": "voting"}, ["dark", "jam"]),
        ({"symptom": "jam"}, ["jam"]),
        ({"effect": "stopped"}, ["dark"]),
        ({"flag": "access"}, ["dark"]),
        ({"flag": "acc"}, []),
        ({"status": "closed"}, ["done"]),
        ({"rover": "ro01", "status": "open"}, ["dark"]),
        ({"text": "paper STUCK"}, ["jam"]),
        ({"text": "größer"}, ["jam"]),
        ({"text": "paper dark"}, []),
        ({"text": "varnsel"}, ["dark"]),
        ({"text": "100%"}, []),
    ],
)
def test_filters(busy: Record, filters: dict[str, str], expected: list[str]) -> None:
    assert ids(busy, **filters) == expected


def test_since(busy: Record) -> None:
    assert [found.id for found in busy.incidents("e26", since=at(20))] == ["quiet", "done"]


def test_a_row_says_what_the_case_says(busy: Record) -> None:
    row = busy.row("dark", now=at(60))
    assert row is not None
    assert (row.number, row.priority, row.status, row.rover) == (2, 1, "open", "ro01")
    assert (row.place_name, row.zone) == ("Varnsel School", "north")
    assert row.flags == {"access"}
    assert row.effect == "stopped"
    assert (row.reported, row.dispatched, row.start) == (at(10), at(12), at(10))
    assert busy.row("none") is None
    assert busy.incident("none") is None


def test_priority_counts_the_minutes_to_opening(record: Record) -> None:
    record.append([
        event("incident.reported", {"place": "P01", "phase": "set-up"}, incident="key", minute=-90),
        event("incident.described", {"symptom": "site-locked"}, incident="key", minute=-90),
    ])  # fmt: skip
    assert [one.priority for one in record.incidents("e26", now=at(-61))] == [4]
    assert [one.priority for one in record.incidents("e26", now=at(-60))] == [1]


def test_numbers_are_short_and_found_again(busy: Record) -> None:
    numbers = {name: busy.number(name) for name in ("jam", "dark", "done", "quiet")}
    assert numbers == {"jam": 1, "dark": 2, "done": 3, "quiet": 4}
    assert busy.by_number("e26", 2) == "dark"
    assert busy.by_number("e26", 5) is None
    assert busy.by_number("e24", 2) is None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("P01", ["P01"]),
        ("p02", ["P02"]),
        ("ombrick", ["P01"]),
        ("school varn", ["P02"]),
        ("0003", ["P02"]),
        ("0002", ["P01"]),
        ("mill lane", ["P02"]),
        ("sc001", ["P01"]),
        ("(555) 555-0102", []),
        ("555-0102", ["P02"]),
        ("0101", ["P01"]),
        ("nowhere", []),
        ("", []),
    ],
)
def test_finding_a_place(record: Record, text: str, expected: list[str]) -> None:
    assert [place.id for place in record.find_places(text)] == expected


def test_only_as_many_places_as_asked(record: Record) -> None:
    assert len(record.find_places("P0", limit=1)) == 1


def test_rows_of_the_county(record: Record) -> None:
    assert [election.id for election in record.elections()] == ["e24", "e26"]
    assert record.election("e99") is None
    assert record.place("P99") is None
    place = record.place("P01")
    assert place is not None
    assert (place.latitude, place.precincts, place.phone) == (40.5, ("0001", "0002"), "555-0101")
    assert [device.asset for device in record.devices()] == ["SC001", "SC002"]
    assert [device.asset for device in record.devices("P01")] == ["SC001"]
    assert [turnout.ballots for turnout in record.exposures("e24")] == [812]
    assert record.exposures("e26") == []
    current = record.current_election(at(60))
    assert current is not None
    assert current.id == "e26"


def mark(kind: str, place: str = "P01", **override: object) -> dict[str, object]:
    return entry(kind, {"place": place}, incident=None) | override


def test_the_roll_call_has_the_latest_of_each_kind(record: Record) -> None:
    record.take([mark("place.ready"), mark("place.opened")], ROVER)
    record.take(
        [mark("place.opened", happened="2026-11-03T12:03:00Z"), mark("place.ready", "P02")], ROVER
    )
    record.take([mark("place.opened", happened="2026-11-03T12:01:00Z")], HOTLINE)
    marks = record.marks("e26")
    assert marks["P01"].keys() == {"place.ready", "place.opened"}
    assert marks["P01"]["place.opened"].at == at(3)
    assert marks["P01"]["place.opened"].actor == "ro01"
    assert marks["P02"].keys() == {"place.ready"}
    assert record.marks("e24") == {}


def test_a_mark_can_say_its_own_time_and_seals(record: Record) -> None:
    body = {"place": "P01", "time": "2026-11-03T20:11:00-05:00", "seals": ["K1", "K2"]}
    record.take([entry("materials.left", body, incident=None)], ROVER)
    found = record.marks("e26")["P01"]["materials.left"]
    assert (found.at, found.seals) == (at(13 * 60 + 11), ("K1", "K2"))


@pytest.mark.parametrize("correction_first", [False, True])
def test_a_mark_is_corrected_or_struck(record: Record, *, correction_first: bool) -> None:
    wrong, void = mark("place.opened"), mark("place.closed")
    told = [
        wrong,
        void,
        entry("event.corrected", {"event": wrong["id"], "replacement": {"place": "P02"}},
              incident=None),
        entry("event.corrected", {"event": void["id"]}, incident=None),
    ]  # fmt: skip
    receipts = record.take(told[::-1] if correction_first else told, HOTLINE)
    assert {receipt.state for receipt in receipts} == {"new"}
    assert {place: set(kinds) for place, kinds in record.marks("e26").items()} == {
        "P02": {"place.opened"}
    }


def test_the_version_rises_with_every_change_and_only_then(record: Record) -> None:
    before = record.version()
    told = entry("note.added", {"text": "x"})
    record.take([told], HOTLINE)
    assert record.version() == before + 1
    record.take([told, {}], HOTLINE)
    record.save_draft("ho01", "d1", {})
    assert record.version() == before + 1


def test_drafts_are_a_persons_own(record: Record) -> None:
    record.save_draft("ho01", "d1", {"words": "größer"})
    record.save_draft("ho01", "d1", {"words": "smaller"})
    record.save_draft("ho02", "d1", {"words": "other"})
    assert record.draft("ho01", "d1") == {"words": "smaller"}
    assert record.drafts("ho02").keys() == {"d1"}
    record.drop_draft("ho01", "d1")
    assert record.draft("ho01", "d1") is None
    assert record.draft("ho02", "d1") is not None


def test_texts_of_trees_are_kept_under_their_hash(record: Record) -> None:
    text = "---\ntitle: Lid\n---\n"
    record.keep_text(fingerprint(text), text)
    record.keep_text(fingerprint(text), text)
    assert record.text(fingerprint(text)) == text
    assert record.text("0" * 64) is None
    with pytest.raises(InputError, match="does not have the hash"):
        record.keep_text("0" * 64, text)


def test_an_imported_case_becomes_a_row_with_all_its_columns(record: Record) -> None:
    body: dict[str, object] = {
        "incident": "7", "place": "P01", "symptom": "jam", "effect": "slowed",
        "reported_at": "2024-11-05T14:00:00Z", "restored_at": "2024-11-05T14:30:00Z",
        "outcome": "duplicate", "duplicate_of": "6", "voters_affected": 4, "note": "n",
        "caller_words": "stuck",
    }  # fmt: skip
    record.append([row("incident.imported", body, election="e24", incident="7")])
    (found,) = record.incidents("e24")
    assert (found.imported, found.status, found.outcome) == (True, "closed", "duplicate")
    assert (found.duplicate_of, found.voters_affected, found.note) == ("6", 4, "n")
    assert found.restored is not None
    assert found.reported is not None
    assert (found.restored - found.reported).total_seconds() == 1800


def test_a_lead_merges_and_the_list_shows_it(busy: Record) -> None:
    busy.take([entry("incident.merged", {"into": "dark"}, incident="jam")], LEAD)
    found = busy.row("jam")
    assert found is not None
    assert (found.status, found.outcome, found.duplicate_of) == ("closed", "duplicate", "dark")
