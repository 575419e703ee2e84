from __future__ import annotations

from kb.incidents.events import Event
from kb.incidents.fold import HANDLERS, fold
from kb.incidents.incident import Incident, Opening, Picked
from kb.incidents.kinds import KINDS
from tests.incidents.telling import HASH, at, event, row


def test_nothing_told_is_an_empty_incident() -> None:
    assert fold([]) == Incident()
    assert Incident().status == "open"


def test_every_handler_is_of_a_kind() -> None:
    assert HANDLERS.keys() <= KINDS.keys()


def test_the_plain_story_of_a_case() -> None:
    incident = fold([
        event("call.answered", {"place": "P01"}),
        event("incident.reported", {
            "place": "P01", "phase": "voting", "equipment": "scanner", "asset": "SC001",
            "caller_role": "chief judge", "call_back": "555-0101",
            "started": "2026-11-03T06:50:00-05:00", "started_estimated": True,
        }, minute=1),
        event("search.picked", {
            "words": "paper is stuck", "article": "jam", "hash": HASH,
        }, minute=2),
        event("incident.described", {
            "symptom": "jam", "effect": "slowed", "flags": ["ballots"], "wait_minutes": 10,
        }, minute=3),
        event("rover.sent", {"rover": "ro01"}, minute=5),
        event("rover.arrived", {"rover": "ro01"}, minute=20, actor="ro01"),
        event("voting.restored", {"outcome": "fixed-on-site"}, minute=31, actor="ro01"),
        event("incident.closed", {"cause": "wear", "cause_confidence": "likely"}, minute=40),
    ])  # fmt: skip
    assert (incident.id, incident.election, incident.place) == ("case-1", "e26", "P01")
    assert (incident.phase, incident.equipment, incident.asset) == ("voting", "scanner", "SC001")
    assert (incident.caller_role, incident.call_back) == ("chief judge", "555-0101")
    assert (incident.started, incident.started_estimated) == (at(-10), True)
    assert (incident.answered, incident.reported) == (at(0), at(1))
    assert (incident.dispatched, incident.arrived, incident.restored) == (at(5), at(20), at(31))
    assert (incident.closed, incident.status) == (at(40), "closed")
    assert incident.articles == (Picked("jam", HASH, "paper is stuck"),)
    assert incident.words == "paper is stuck"
    assert (incident.symptom, incident.effect, incident.wait_minutes) == ("jam", "slowed", 10)
    assert incident.flags == {"ballots"}
    assert (incident.outcome, incident.cause) == ("fixed-on-site", "wear")
    assert incident.cause_confidence == "likely"
    assert incident.rover == "ro01"
    assert len(incident.timeline) == 8
    assert incident.late == ()


def test_custody_counters_witnesses_and_ballots() -> None:
    incident = fold([
        event("counter.read", {"asset": "SC001", "public": 112, "protective": 9000,
                               "moment": "before"}),
        event("seal.removed", {"seal": "K17", "where": "ballot box", "state": "whole"}, minute=1),
        event("compartment.opened", {"compartment": "main bin"}, minute=2),
        event("ballots.moved", {"from": "main bin", "to": "envelope", "container": "E4"}, minute=3),
        event("compartment.closed", {"compartment": "main bin"}, minute=4),
        event("seal.applied", {"seal": "K18"}, minute=5),
        event("witness.named", {"name": "A. Yarrow", "role": "judge", "person": "pw01",
                                "confirmed_by": "paper 14", "party_rule_met": True}, minute=6),
        event("device.swapped", {"old": "SC001", "new": "SC002", "memory": "stays"}, minute=7),
        event("ballots.tallied", {"stored": 9, "accepted": 8, "returned": 1}, minute=8),
        event("decision.made", {"text": "swap", "who_else": "ma01"}, minute=9, actor="le01"),
    ])  # fmt: skip
    counter = incident.counters[0]
    assert (counter.public, counter.protective, counter.moment) == (112, 9000, "before")
    assert [seal.number for seal in incident.seals_off] == ["K17"]
    assert incident.seals_on[0].where == ""
    assert incident.compartments == (Opening("main bin", at(2), at(4)),)
    assert incident.ballots[0].count is None
    assert incident.ballots[0].source == "main bin"
    witness = incident.witnesses[0]
    assert (witness.name, witness.person, witness.confirmed_by) == ("A. Yarrow", "pw01", "paper 14")
    assert witness.party_rule_met
    assert (incident.swaps[0].old, incident.swaps[0].new) == ("SC001", "SC002")
    assert (incident.tallies[0].stored, incident.tallies[0].returned) == (9, 1)
    assert (incident.decisions[0].text, incident.decisions[0].by) == ("swap", "le01")


def test_what_was_opened_and_never_closed_shows() -> None:
    incident = fold([
        event("compartment.opened", {"compartment": "bin"}),
        event("compartment.closed", {"compartment": "door"}, minute=1),
    ])  # fmt: skip
    assert incident.compartments == (Opening("bin", at(0), None), Opening("door", None, at(1)))


def test_a_case_that_nobody_reported_is_still_a_case() -> None:
    incident = fold([event("seal.removed", {"seal": "K17"}, actor="ro01", minute=4)])
    assert incident.id == "case-1"
    assert incident.reported is None
    assert incident.first == at(4)


def answer(step: str, label: str, minute: float, **more: str) -> Event:
    body = {"tree": "jam", "hash": HASH, "step": step, "answer": label}
    return event("tree.answered", body | more, minute=minute)


def test_a_changed_answer_takes_back_what_followed_and_loses_nothing() -> None:
    told = [
        answer("where", "at the slot", 0),
        answer("see", "paper", 1),
        answer("pull", "out", 2),
        answer("see", "nothing", 3),
    ]
    (walk,) = fold(told).walks
    assert walk.answers == (("jam", "where", "at the slot"), ("jam", "see", "nothing"))
    assert [given.answer for given in walk.history] == ["at the slot", "paper", "out", "nothing"]
    assert (walk.tree, walk.hash) == ("jam", HASH)


def test_the_same_answer_twice_takes_nothing_back() -> None:
    told = [answer("a", "yes", 0), answer("b", "no", 1), answer("a", "yes", 2)]
    (walk,) = fold(told).walks
    assert walk.answers == (("jam", "a", "yes"), ("jam", "b", "no"))
    assert len(walk.history) == 3


def test_a_walk_goes_on_in_another_tree_under_its_own_id() -> None:
    told = [
        answer("a", "yes", 0, walk="w1"),
        answer("b", "no", 1, walk="w1", tree="power"),
        answer("a", "no", 2, walk="w2"),
    ]
    first, second = fold(told).walks
    assert first.answers == (("jam", "a", "yes"), ("power", "b", "no"))
    assert (first.tree, second.id) == ("jam", "w2")


def test_effect_now_and_at_its_worst() -> None:
    told = [
        event("incident.described", {"effect": "stopped"}),
        event("incident.described", {"effect": "device"}, minute=5),
    ]
    incident = fold(told)
    assert (incident.effect, incident.worst_effect) == ("device", "stopped")
    longer = fold([*told, event("incident.described", {"wait_minutes": 31}, minute=6)])
    assert (longer.effect, longer.effect_said) == ("slowed", "device")


def test_reopening_undoes_the_ending() -> None:
    told = [
        event("voting.restored", {"outcome": "fixed-by-phone", "cause": "paper"}),
        event("incident.closed", minute=1),
        event("incident.reopened", {"reason": "again"}, minute=2),
    ]
    incident = fold(told)
    assert (incident.status, incident.outcome, incident.restored) == ("open", None, None)
    assert incident.cause == "paper"


def test_merging_is_the_same_case_and_a_parent_is_not() -> None:
    same = fold([event("incident.merged", {"into": "case-0"})])
    assert (same.status, same.outcome, same.duplicate_of) == ("closed", "duplicate", "case-0")
    child = fold([event("incident.merged", {"parent": "case-0"})])
    assert (child.status, child.outcome, child.parent) == ("open", None, "case-0")


def test_hold_and_release() -> None:
    placed = event("hold.placed", {"reason": "court"})
    assert fold([placed]).held
    assert not fold([placed, event("hold.lifted", minute=1)]).held


def test_withheld_words_are_gone_from_the_case() -> None:
    told = event("incident.described", {"words": "Name said so", "symptom": "jam"})
    hide = event("text.withheld", {"event": told.id, "reason": "r"}, minute=1)
    incident = fold([told, hide])
    assert incident.words == "[redacted]"
    assert incident.symptom == "jam"


def test_a_struck_entry_tells_nothing() -> None:
    told = event("voting.restored", {"outcome": "fixed-by-phone"})
    struck = event("event.corrected", {"event": told.id}, minute=1)
    assert fold([told, struck]).restored is None


def test_a_row_from_a_file_and_its_later_version() -> None:
    scope = {"election": "e24", "incident": "7"}
    body = {
        "incident": "7", "place": "P01", "equipment": "scanner", "symptom": "jam",
        "effect": "slowed", "flags": ["custody"], "started_at": "2024-11-05T09:00:00-05:00",
        "reported_at": "2024-11-05T09:10:00-05:00", "restored_at": "2024-11-05T09:40:00-05:00",
        "outcome": "fixed-on-site", "cause": "wear", "article": "jam-at-entry",
        "ballots_affected": 2, "voters_affected": 5, "caller_words": "stuck", "note": "again",
    }  # fmt: skip
    first = row("incident.imported", body, minute=10, **scope)
    later = row("incident.imported", body | {"symptom": "multi-feed"}, minute=20, **scope)
    incident = fold([later, first])
    assert incident.symptom == "multi-feed"
    assert (incident.effect, incident.worst_effect) == ("slowed", "slowed")
    assert incident.flags == {"custody"}
    assert incident.restored is not None
    assert incident.start is not None
    assert (incident.restored - incident.start).total_seconds() == 2400
    assert (incident.status, incident.closed) == ("closed", incident.restored)
    assert (incident.article, incident.note, incident.words) == ("jam-at-entry", "again", "stuck")
    assert (incident.ballots_affected, incident.voters_affected) == (2, 5)
    assert incident.imported


def test_events_build_on_an_imported_row_whatever_their_time() -> None:
    scope = {"election": "e24", "incident": "7"}
    case = row("incident.imported", {"incident": "7", "symptom": "jam"}, minute=50, **scope)
    seal = row("seal.removed", {"seal": "K1"}, minute=10, **scope)
    incident = fold([case, seal])
    assert incident.symptom == "jam"
    assert [one.number for one in incident.seals_off] == ["K1"]
