"""Forms, calls and statements against the ledger; invented numbers, plain sums."""

from __future__ import annotations

import hashlib
from datetime import timedelta

import pytest

from kb.base.errors import Problems
from kb.incidents import forms
from kb.incidents.callbook import Answer, reconcile
from kb.incidents.deciding import DECISIONS, refusal
from kb.incidents.events import Event
from kb.incidents.intake import admit
from kb.incidents.places import CallRow
from kb.incidents.statement import unstated
from tests.incidents.telling import LEAD, MANAGER, at, entry, event


def of_day(kind: str, **body: object) -> Event:
    return event(kind, body, incident=None)


def test_every_form_that_was_issued_must_turn_up() -> None:
    found = forms.account(
        [
            of_day("forms.issued", first=1, last=6, to="north desk"),
            event("incident.reported", {"form": "2"}, incident="a"),
            of_day("form.accounted", form=3, state="spoiled", reason="coffee"),
            of_day("form.accounted", form=4, state="missing", reason="not in the box"),
            event("incident.reported", {"form": "5"}, incident="b"),
            of_day("form.accounted", form=5, state="used", incident="c"),
            of_day("form.accounted", form=9, state="blank"),
        ]
    )
    assert found.open == (1, 6)
    assert found.used[2] == "a"
    assert found.twice == (5,)
    assert found.stray == (9,)
    assert found.states["missing"] == (4,)
    assert not found.settled


def test_forms_that_all_turned_up_are_settled() -> None:
    issued = of_day("forms.issued", first=7, last=8)
    rest = [of_day("form.accounted", form=number, state="blank") for number in (7, 8)]
    assert not forms.account([issued, rest[0]]).settled
    assert forms.account([issued, *rest]).settled


@pytest.mark.parametrize(
    ("numbers", "said"), [([], ""), ([4], "4"), ([1, 2, 3, 7, 9, 8, 8], "1-3, 7-9")]
)
def test_numbers_are_said_as_ranges(numbers: list[int], said: str) -> None:
    assert forms.ranges(numbers) == said


def row(call: str, minute: float, answered: float | None, case: str | None = None) -> CallRow:
    told = {"call": call, "started_at": at(minute)}
    if answered is not None:
        told["answered_at"] = at(answered)
    if case:
        told["incident"] = case
    return CallRow(**told)  # type: ignore[arg-type]


def answer(name: str, minute: float, case: str = "", call: str | None = None) -> Answer:
    return Answer(name, case or None, call, at(minute))


def test_a_call_of_the_list_is_found_by_its_id_its_case_or_its_time() -> None:
    found = reconcile(
        [
            row("c1", 0, 1),
            row("c2", 10, 11, "case-2"),
            row("c3", 20, 21),
            row("c4", 30, None),
            row("c5", 40, 41),
        ],
        [
            answer("e1", 55, call="c1"),
            answer("e2", 31, "case-2"),
            answer("e3", 22.5),
            answer("e4", 90),
        ],
    )
    assert found.matched == 3
    assert [one.call for one in found.given_up] == ["c4"]
    assert [one.call for one in found.missing] == ["c5"]
    assert [one.event for one in found.alone] == ["e4"]


def test_one_answer_stands_for_one_call() -> None:
    found = reconcile([row("c1", 0, 1), row("c2", 0, 1)], [answer("e1", 1)])
    assert (found.matched, len(found.missing)) == (1, 1)


def test_a_statement_covers_what_came_since_the_last_one() -> None:
    first = event("note.added", {"text": "a"}, minute=1, received=1)
    stated = event(
        "shift.stated",
        {"starts": "2026-11-03T12:00:00Z", "until": "2026-11-03T12:02:00Z", "entries": 1,
         "digest": "x"},
        incident=None, minute=2, received=2,
    )  # fmt: skip
    later = event("note.added", {"text": "b"}, minute=3, received=3)
    other = event("note.added", {"text": "c"}, minute=3, received=3, actor="le01")
    mine = unstated([first, stated, later, other], first.actor)
    assert mine.entries == (later,)
    assert mine.since == at(2)
    assert mine.digest == hashlib.sha256(f"{later.id}\n".encode()).hexdigest()
    assert unstated([first], first.actor).since is None


def test_each_decision_says_who_makes_it_and_whom_it_needs() -> None:
    assert "decided by a manager" in refusal("re-open", {"lead"}, "counsel")
    assert "needs counsel" in refusal("re-open", {"manager"}, "")
    assert refusal("re-open", {"manager"}, "counsel, by phone") == ""
    assert "no decision is called" in refusal("paint", {"manager"}, "x")
    # The strict default: nobody but a lead or a manager decides anything.
    assert {role for one in DECISIONS.values() for role in one.roles} == {"lead", "manager"}


def test_the_intake_holds_the_table() -> None:
    told = entry("decision.made", {"text": "open again", "about": "re-open", "who_else": "counsel"})
    assert admit(told, actor=MANAGER, received=at(0) + timedelta(minutes=1)).body["about"]
    with pytest.raises(Problems, match="decided by a manager"):
        admit(told, actor=LEAD, received=at(1))
