"""Order, skew, corrections, withholding, lateness."""

from __future__ import annotations

import itertools
from typing import Any

from kb.incidents.events import Event
from kb.incidents.order import REDACTED, Entry, settle
from tests.incidents.telling import at, event, row


def correction(
    target: Event, replacement: object = None, *, minute: float = 30, **body: object
) -> Event:
    told = {"event": target.id, "replacement": replacement, "reason": "heard wrong"} | body
    return event("event.corrected", told, minute=minute, actor="le01")


def of(settled: tuple[Entry, ...], told: Event) -> Entry:
    return next(entry for entry in settled if entry.id == told.id)


def test_order_is_by_time_then_id() -> None:
    late, early = event("note.added", {"text": "b"}, minute=2), event("note.added", {"text": "a"})
    twins = [event("note.added", {"text": "c"}, minute=1) for _ in range(3)]
    settled = settle([late, *reversed(twins), early])
    expected = [early.id, *sorted(twin.id for twin in twins), late.id]
    assert [entry.id for entry in settled] == expected


def test_a_slow_clock_is_corrected_and_marked_only_over_two_minutes() -> None:
    slow = event("note.added", {"text": "ten minutes behind"}, minute=0, skew=10)
    right = event("note.added", {"text": "in between"}, minute=5)
    settled = settle([slow, right])
    assert [entry.id for entry in settled] == [right.id, slow.id]
    assert of(settled, slow).at == at(10)
    assert of(settled, slow).skewed
    two = event("note.added", {"text": "two minutes"}, skew=2)
    assert not settle([two])[0].skewed
    fast = event("note.added", {"text": "three minutes ahead"}, skew=-3)
    assert settle([fast])[0].skewed


def test_an_entry_that_waited_in_a_phone_is_not_skewed() -> None:
    waited = event("note.added", {"text": "no signal"}, minute=0, received=90)
    assert settle([waited])[0].at == at(0)
    assert not settle([waited])[0].skewed


def test_duplicates_count_once() -> None:
    told = event("note.added", {"text": "x"})
    assert len(settle([told, told, told])) == 1


def test_a_correction_replaces_and_keeps_what_it_was() -> None:
    told = event("incident.described", {"wait_minutes": 121}, actor="ro01")
    entry = of(settle([correction(told, {"wait_minutes": 112}), told]), told)
    assert entry.body == {"wait_minutes": 112}
    (version,) = entry.versions
    assert version.body == {"wait_minutes": 121}
    assert (version.corrected_by, version.corrected_at) == ("le01", at(30))
    assert version.reason == "heard wrong"
    assert entry.actor == "ro01"


def test_the_later_correction_counts_whatever_arrives_first() -> None:
    told = event("incident.described", {"wait_minutes": 1})
    first, second = (
        correction(told, {"wait_minutes": 2}),
        correction(told, {"wait_minutes": 3}, minute=40),
    )
    for events in ([told, first, second], [second, first, told]):
        entry = of(settle(events), told)
        assert entry.body == {"wait_minutes": 3}
        assert [version.body for version in entry.versions] == [
            {"wait_minutes": 1},
            {"wait_minutes": 2},
        ]


def test_correcting_a_correction_corrects_what_it_corrected() -> None:
    told = event("incident.described", {"wait_minutes": 1})
    first = correction(told, {"wait_minutes": 2})
    second = correction(first, {"wait_minutes": 3}, minute=40)
    assert of(settle([second, told, first]), told).body == {"wait_minutes": 3}


def test_without_a_replacement_an_entry_is_struck_out_but_stays() -> None:
    told = event("note.added", {"text": "wrong place"})
    entry = of(settle([told, correction(told)]), told)
    assert entry.struck
    assert entry.body == {"text": "wrong place"}


def test_a_wrong_time_is_corrected() -> None:
    told = event("voting.restored", {"outcome": "fixed-on-site"}, minute=20, skew=5)
    right = correction(told, happened="2026-11-03T07:12:00-05:00")
    entry = of(settle([told, right]), told)
    assert (entry.at, entry.struck, entry.body) == (at(12), False, told.body)
    assert entry.versions[0].happened == at(20)


def test_a_correction_that_does_not_fit_has_no_effect_but_is_shown() -> None:
    told = event("counter.read", {"public": 1})
    settled = settle([told, correction(told, {"public": "many"})])
    assert of(settled, told).body == {"public": 1}
    assert of(settled, told).versions == ()
    assert len(settled) == 2


def test_corrections_of_nothing_and_in_a_ring_do_no_harm() -> None:
    one, two = "00000000-0000-4000-8000-00000000000a", "00000000-0000-4000-8000-00000000000b"
    ring = [
        event("event.corrected", {"event": two}, id=one),
        event("event.corrected", {"event": one}, id=two),
        event("event.corrected", {"event": "nothing"}),
    ]
    assert [entry.struck for entry in settle(ring)] == [False, False, False]


def test_withheld_text_is_hidden_in_every_version_and_in_its_corrections() -> None:
    told = event("note.added", {"text": "Name of a voter"})
    fixed = correction(told, {"text": "Name of a voter, again"})
    hide = event("text.withheld", {"event": told.id, "reason": "a person"}, minute=50)
    settled = settle([told, fixed, hide])
    assert "Name of a voter" not in str([(one.body, one.versions) for one in settled])
    assert of(settled, told).body == {"text": REDACTED}
    assert of(settled, told).withheld == {"text"}
    assert of(settled, told).versions[0].body == {"text": REDACTED}
    assert of(settled, fixed).body["replacement"] == {"text": REDACTED}


def test_only_named_members_are_withheld() -> None:
    told = event("note.added", {"text": "lid open", "who_else": "Name"})
    hide = event(
        "text.withheld", {"event": told.id, "members": ["who_else"], "reason": "r"}, minute=1
    )
    assert of(settle([told, hide]), told).body == {"text": "lid open", "who_else": REDACTED}


def test_what_was_decided_about_entries_is_never_corrected() -> None:
    """In the fold too, which does not know the roles of who corrects."""
    told, other = event("note.added", {"text": "lid open"}), event("note.added", {"text": "x"})
    hide = event("text.withheld", {"event": told.id, "reason": "r"}, minute=1)
    elsewhere = {"event": other.id, "reason": "r"}
    for change in (correction(hide), correction(hide, elsewhere)):
        for events in itertools.permutations([told, other, hide, change]):
            settled = settle(events)
            assert of(settled, told).body == {"text": REDACTED}
            assert of(settled, other).body == {"text": "x"}
            assert not of(settled, hide).struck


def test_what_comes_in_after_closing_is_late_wherever_its_time_lies() -> None:
    closed = event("incident.closed", {"outcome": "fixed-on-site"}, minute=60)
    before = event("note.added", {"text": "before"}, minute=10)
    waited = event("note.added", {"text": "in a pocket"}, minute=20, received=90)
    settled = settle([waited, closed, before])
    assert [entry.late for entry in settled] == [False, True, False]


def test_after_reopening_nothing_is_late() -> None:
    closed = event("incident.closed", minute=60)
    again = event("incident.reopened", minute=70)
    after = event("note.added", {"text": "after"}, minute=80)
    assert not any(entry.late for entry in settle([closed, again, after]))


def test_a_struck_closing_closes_nothing() -> None:
    closed = event("incident.closed", minute=20)
    after = event("note.added", {"text": "after"}, minute=80)
    assert not of(settle([closed, after, correction(closed)]), after).late


def test_imports_are_never_late_or_skewed() -> None:
    scope: dict[str, Any] = {"election": "e24", "incident": "7"}
    case = row("incident.imported", {"incident": "7", "outcome": "fixed-by-phone"}, **scope)
    note = row("note.added", {"text": "from the paper log"}, minute=-500, **scope)
    assert [(entry.late, entry.skewed) for entry in settle([case, note])] == [(False, False)] * 2
