"""Corrections of custody, counters and ballots take two persons; common practice."""

from __future__ import annotations

import itertools

import pytest
from sqlite_utils import Database

from kb.base.database import Store
from kb.incidents.corrections import TWO_PERSONS, pending
from kb.incidents.events import Event
from kb.incidents.fold import fold
from kb.incidents.kinds import KINDS
from kb.incidents.store import Record, ledger, projection
from tests.incidents.telling import HOTLINE, LEAD, MANAGER, ROVER, at, entry, event, row

READ = {"public": 121, "moment": "before"}
RIGHT = {"public": 112, "moment": "before"}


def three(actor: str = "le01") -> tuple[Event, Event, Event]:
    told = event("counter.read", READ)
    asked = event(
        "correction.asked", {"event": told.id, "replacement": RIGHT, "reason": "misread"}, minute=1
    )
    carried = event(
        "event.corrected",
        {"event": told.id, "replacement": RIGHT, "reason": "misread", "asked": asked.id},
        minute=2,
        actor=actor,
    )
    return told, asked, carried


def test_custody_counters_and_ballots_are_on_the_list() -> None:
    assert KINDS.keys() >= TWO_PERSONS
    for kind in ("seal.applied", "counter.read", "ballots.tallied", "device.swapped"):
        assert kind in TWO_PERSONS
    assert "note.added" not in TWO_PERSONS


def test_it_counts_with_the_second_person_whatever_arrives_first() -> None:
    for events in itertools.permutations(three()):
        case = fold(events)
        assert case.counters[0].public == 112
        (version,) = next(one for one in case.timeline if one.kind == "counter.read").versions
        assert (version.body["public"], version.corrected_by) == (121, "le01")


@pytest.mark.parametrize("left_out", ["asked", "carried"])
def test_one_of_the_two_alone_changes_nothing(left_out: str) -> None:
    told, asked, carried = three()
    events = [told, carried] if left_out == "asked" else [told, asked]
    assert fold(events).counters[0].public == 121


def test_nobody_is_both_persons() -> None:
    assert fold(three(actor="ho01")).counters[0].public == 121


def test_what_waits_is_listed_until_it_is_decided() -> None:
    told, asked, carried = three()
    (waiting,) = pending([asked, told])
    assert waiting.target == told
    assert waiting.replacement == RIGHT
    assert pending([told, asked, carried]) == ()
    refused = event("correction.refused", {"asked": asked.id, "reason": "no"}, actor="le01")
    assert pending([told, asked, refused]) == ()


def said(record: Record, *told: tuple[dict[str, object], object]) -> list[str]:
    return [record.take([one], who)[0].message for one, who in told]  # type: ignore[arg-type]


def test_the_record_takes_it_from_two_and_from_nobody_else(record: Record) -> None:
    read = entry("counter.read", READ)
    record.take([read], HOTLINE)
    change = {"event": read["id"], "replacement": RIGHT}
    alone = entry("event.corrected", change)
    asked = entry("correction.asked", change | {"reason": "misread"})
    own = entry("event.corrected", change | {"asked": asked["id"]})
    other = entry(
        "event.corrected",
        {"event": read["id"], "replacement": {"public": 99}, "asked": asked["id"]},
    )
    right = entry("event.corrected", change | {"asked": asked["id"]})
    again = entry("event.corrected", change | {"asked": asked["id"]})
    first, taken, mine, differs, done, twice = said(
        record,
        (alone, LEAD),
        (asked, LEAD),
        (own, LEAD),
        (other, MANAGER),
        (right, MANAGER),
        (again, MANAGER),
    )
    assert "takes two persons" in first
    assert taken == ""
    assert "nobody carries out a correction that they asked for" in mine
    assert "replacement differs" in differs
    assert done == ""
    assert "carried out or refused already" in twice
    case = record.incident("case-1")
    assert case is not None
    assert case.counters[0].public == 112


def test_a_refusal_is_by_somebody_else_and_final(record: Record) -> None:
    read = entry("counter.read", READ)
    asked = entry("correction.asked", {"event": read["id"], "reason": "strike it"})
    record.take([read], HOTLINE)
    record.take([asked], LEAD)
    refused = {"asked": asked["id"], "reason": "the reading is right"}
    mine, done, late = said(
        record,
        (entry("correction.refused", refused), LEAD),
        (entry("correction.refused", refused), MANAGER),
        (entry("event.corrected", {"event": read["id"], "asked": asked["id"]}), MANAGER),
    )
    assert "nobody decides on a correction that they asked for" in mine
    assert done == ""
    assert "carried out or refused already" in late


@pytest.mark.parametrize("ahead", [False, True])
@pytest.mark.parametrize("replaced", [False, True])
@pytest.mark.parametrize("kind", ["text.withheld", "text.cleared", "hold.placed", "hold.lifted"])
def test_a_lead_cannot_undo_what_a_manager_decided(
    record: Record, kind: str, *, replaced: bool, ahead: bool
) -> None:
    note, other = entry("note.added", {"text": "a name"}), entry("note.added", {"text": "x"})
    record.take([note, other], HOTLINE)
    body = {"reason": "r"} if kind.startswith("hold") else {"event": note["id"]}
    body |= {"reason": "r"} if kind == "text.withheld" else {}
    decided = entry(kind, body, minute=1)
    change: dict[str, object] = {"event": decided["id"], "reason": "undo"}
    if replaced:
        change["replacement"] = body | ({"event": other["id"]} if "event" in body else {})
    undo = entry("event.corrected", change, minute=2)
    told = [(undo, LEAD), (decided, MANAGER)] if ahead else [(decided, MANAGER), (undo, LEAD)]
    said(record, *told)
    case = record.incident("case-1")
    assert case is not None
    assert case.held == (kind == "hold.placed")
    stands = next(one for one in case.timeline if one.id == decided["id"])
    assert (stands.struck, stands.versions) == (False, ())
    (mine,) = said(record, (entry("event.corrected", change), MANAGER))
    assert f"{kind} is never corrected" in mine


def test_a_correction_takes_the_roles_of_what_it_corrects(record: Record) -> None:
    turnout = row("exposure.recorded", {"place": "P01", "date": "2026-11-03"}, election="e26")
    record.append([turnout])
    change = entry("event.corrected", {"event": turnout.id, "reason": "x"}, incident=None)
    assert (
        "exposure.recorded is corrected by one of the roles administrator, manager alone"
        in (said(record, (change, LEAD))[0])
    )


COPIES = {"text": "use copies", "about": "copies"}
ASKED_FOR = COPIES | {"who_else": "counsel and the head of the office"}


def decisions(record: Record) -> list[object]:
    case = record.incident("case-1")
    assert case is not None
    return [
        None if one.struck else one.body.get("about")
        for one in case.timeline
        if one.kind == "decision.made"
    ]


@pytest.mark.parametrize("ahead", [False, True])
def test_a_decision_of_a_manager_is_not_made_by_correction(record: Record, *, ahead: bool) -> None:
    other = entry("decision.made", {"text": "wait", "about": "other"})
    change = entry("event.corrected", {"event": other["id"], "replacement": ASKED_FOR})
    told = [(change, LEAD), (other, LEAD)] if ahead else [(other, LEAD), (change, LEAD)]
    assert "is decided by a manager" in "".join(said(record, *told))
    assert decisions(record) == ["other"]


def test_a_corrected_decision_still_needs_whom_it_needs(record: Record) -> None:
    other = entry("decision.made", {"text": "wait", "about": "other"})
    alone = entry("event.corrected", {"event": other["id"], "replacement": COPIES})
    whole = entry("event.corrected", {"event": other["id"], "replacement": ASKED_FOR})
    _, first, second = said(record, (other, LEAD), (alone, MANAGER), (whole, MANAGER))
    assert "needs counsel and the head of the office; say who that was" in first
    assert second == ""
    assert decisions(record) == ["copies"]


@pytest.mark.parametrize("by_correction", [False, True])
@pytest.mark.parametrize("replacement", [None, {"text": "no"}, {"text": "no", "about": "other"}])
def test_a_decision_of_a_manager_is_not_undone_by_correction(
    record: Record, replacement: dict[str, object] | None, *, by_correction: bool
) -> None:
    first = {"text": "wait", "about": "other"} if by_correction else ASKED_FOR
    made = entry("decision.made", first)
    told = {"event": made["id"], "replacement": ASKED_FOR}
    said(record, (made, LEAD if by_correction else MANAGER))
    said(record, *[(entry("event.corrected", told, minute=1), MANAGER)] * by_correction)
    change = entry("event.corrected", {"event": made["id"], "replacement": replacement}, minute=2)
    (refused,) = said(record, (change, LEAD))
    assert "was decided by a manager; only they may correct it" in refused
    assert decisions(record) == ["copies"]


def clock(monkeypatch: pytest.MonkeyPatch, minute: float) -> None:
    monkeypatch.setattr("kb.incidents.store.record.present", lambda: at(minute))


def test_an_imported_correction_needs_two_persons_unless_all_was_imported(
    record: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock(monkeypatch, 1)
    scope = {"election": "e26", "incident": "case-1"}
    read, old = entry("counter.read", READ), row("counter.read", READ, **scope)
    record.take([read], HOTLINE)
    record.append([old])
    live, imported = (
        row("event.corrected", {"event": name, "replacement": RIGHT}, minute=5, **scope)
        for name in (read["id"], old.id)
    )
    refused, taken = record.append([live, imported])
    assert "takes two persons" in refused.message
    assert taken.state == "new"
    told = {one.id: one for one in record.events(incident="case-1")}
    corrected = {one.id: one.body["public"] for one in fold([*told.values(), live]).timeline
                 if one.kind == "counter.read"}  # fmt: skip
    assert corrected == {read["id"]: 121, old.id: 112}


def test_what_was_refused_is_not_carried_out_before_its_entry_arrives(record: Record) -> None:
    read = entry("counter.read", READ)
    change = {"event": read["id"], "replacement": RIGHT, "reason": "misread"}
    asked = entry("correction.asked", change)
    refused = entry("correction.refused", {"asked": asked["id"], "reason": "no"})
    carried = entry("event.corrected", change | {"asked": asked["id"]})
    messages = said(
        record,
        (asked, ROVER),
        (refused, LEAD),
        (carried, MANAGER),
        (read, ROVER),
        (carried, MANAGER),
    )
    assert "is not in the record yet. Carry it out when it is there." in messages[2]
    assert "carried out or refused already" in messages[4]
    case = record.incident("case-1")
    assert case is not None
    assert case.counters[0].public == 121


def test_a_refused_asking_changes_nothing_whatever_arrives_first() -> None:
    told, asked, carried = three()
    refused = event("correction.refused", {"asked": asked.id, "reason": "no"}, actor="ma01")
    for events in itertools.permutations([told, asked, carried, refused]):
        assert fold(events).counters[0].public == 121


def test_an_imported_line_is_not_corrected_before_it_is_there(record: Record) -> None:
    """Its id is a hash of what it says, so that others foresee it."""
    scope = {"election": "e26", "incident": "case-1"}
    line = row("decision.made", {"text": "Swap it"}, **scope)
    change = {"event": line.id, "replacement": {"text": "Do not swap"}}
    first = entry("event.corrected", change)
    through = entry("event.corrected", {"event": first["id"]})
    for who in (ROVER, LEAD):
        assert "Correct an entry that is there" in said(record, (first, who))[0]
    said(record, (through, ROVER))
    record.append([line])
    assert "was entered by ma01" in said(record, (first, ROVER))[0]
    case = record.incident("case-1")
    assert case is not None
    assert next(one for one in case.timeline if one.id == line.id).body == {"text": "Swap it"}


def test_ahead_of_an_entry_only_its_own_teller_corrects_it() -> None:
    told = event("note.added", {"text": "x"}, received=9)
    change = {"event": told.id, "replacement": {"text": "y"}}
    for actor, says in (("ho01", "y"), ("ro01", "x")):
        ahead = event("event.corrected", change, minute=5, actor=actor)
        for events in ([told, ahead], [ahead, told]):
            assert fold(events).note == says
    after = event("event.corrected", change, minute=10, actor="le01")
    assert fold([after, told]).note == "y"


def test_nor_through_a_correction_that_comes_later() -> None:
    told = event("note.added", {"text": "x"}, received=1)
    theirs = event(
        "event.corrected", {"event": told.id, "replacement": {"text": "y"}}, minute=2, received=5,
        actor="le01",
    )  # fmt: skip
    ahead = event("event.corrected", {"event": theirs.id, "replacement": {"text": "z"}},
                  minute=3, actor="ro01")  # fmt: skip
    for events in itertools.permutations([told, theirs, ahead]):
        assert fold(events).note == "y"


def test_with_a_clock_that_went_back_a_correction_is_refused_and_not_lost(
    record: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = entry("note.added", {"text": "x"})
    clock(monkeypatch, 10)
    said(record, (told, HOTLINE))
    clock(monkeypatch, 9)
    change = entry("event.corrected", {"event": told["id"], "replacement": {"text": "y"}})
    assert "the server's clock stands before" in said(record, (change, LEAD))[0]
    assert said(record, (change, HOTLINE)) == [""]


def test_nobody_does_away_with_an_asking_by_correcting_something_else(record: Record) -> None:
    read, note = entry("counter.read", READ), entry("note.added", {"text": "x"})
    asked = entry("correction.asked", {"event": read["id"], "reason": "misread"})
    other = entry("event.corrected", {"event": note["id"], "asked": asked["id"]})
    *_, refused = said(record, (read, HOTLINE), (note, ROVER), (asked, HOTLINE), (other, ROVER))
    assert "it is not what was asked for: event differs" in refused
    assert len(pending(record.events(incident="case-1"))) == 1


def test_a_refusal_belongs_to_the_case_of_what_it_refuses(record: Record) -> None:
    read = entry("counter.read", READ)
    asked = entry("correction.asked", {"event": read["id"], "reason": "misread"})
    refused = {"asked": asked["id"], "reason": "no"}
    *_, elsewhere = said(
        record, (read, HOTLINE), (asked, HOTLINE),
        (entry("correction.refused", refused, incident="case-2"), LEAD),
    )  # fmt: skip
    assert "belongs to another incident" in elsewhere


@pytest.mark.parametrize("refused", [False, True])
def test_a_mark_stands_live_as_rebuilt_when_the_asking_comes_last(
    record: Record, store: Store, *, refused: bool
) -> None:
    """As in ledgers that took a correction ahead of its mark and of its asking."""
    mark = event("materials.left", {"place": "P01", "seals": ["OLD"]}, actor="le01", incident=None)
    change = {"event": mark.id, "replacement": {"place": "P01", "seals": ["NEW"]}, "reason": "x"}
    asked = event("correction.asked", change, minute=2, incident=None)
    carried = event(
        "event.corrected", change | {"asked": asked.id}, minute=1, actor="le01", incident=None
    )
    told = [carried, mark, asked]
    if refused:
        no = {"asked": asked.id, "reason": "no"}
        told.append(event("correction.refused", no, minute=3, actor="ma01", incident=None))
    for one in told:
        store.write(lambda database, one=one: _as_before(database, one))
    (seal,) = record.marks("e26")["P01"]["materials.left"].seals
    assert seal == ("OLD" if refused else "NEW")
    live = record.digest()
    record.rebuild()
    assert record.digest() == live


def _as_before(database: Database, one: Event) -> None:
    ledger._insert(database, one)
    projection.project_row(database, one)
