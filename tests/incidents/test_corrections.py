"""Corrections of custody, counters and ballots take two persons; common practice."""

from __future__ import annotations

import itertools

import pytest

from kb.incidents.corrections import TWO_PERSONS, pending
from kb.incidents.events import Event
from kb.incidents.fold import fold
from kb.incidents.kinds import KINDS
from kb.incidents.store import Record
from tests.incidents.telling import HOTLINE, LEAD, MANAGER, entry, event, row

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


def test_an_imported_correction_needs_two_persons_unless_all_was_imported(record: Record) -> None:
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
