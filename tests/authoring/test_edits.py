"""The way of an edit from draft into force, and who may move it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from kb.authoring import edits
from kb.authoring.edits import Edit, Stale
from kb.authoring.merging import THEIRS
from kb.base.errors import InputError, Refused
from kb.base.ids import fingerprint
from tests.authoring.telling import CHANGED, OTHER, SHIPPED, decision, draft, later

BASE = fingerprint(SHIPPED)


@pytest.fixture
def waiting() -> Edit:
    return edits.hand_in(draft(), "ann", 1, later(1))


def test_the_whole_way(waiting: Edit) -> None:
    assert waiting.state == "handed-in"
    done = edits.approve(waiting, decision(), BASE)
    assert (done.state, done.reader, done.decided) == ("published", "ben", later(60))


def test_saving_counts_revisions_and_saving_the_same_does_not() -> None:
    saved = edits.revise(draft(), "ann", 1, draft(text=OTHER))
    assert (saved.text, saved.revision) == (OTHER, 2)
    assert edits.revise(saved, "ann", 1, draft(text=OTHER)) is saved


def test_a_later_save_of_an_older_page_is_told_and_overwrites_nothing() -> None:
    saved = edits.revise(draft(), "ann", 1, draft(text=OTHER))
    with pytest.raises(Stale, match="saved elsewhere"):
        edits.revise(saved, "ann", 1, draft(text="mine"))


def test_nobody_decides_on_an_edit_of_their_own(waiting: Edit) -> None:
    for rule in (
        lambda: edits.approve(waiting, decision("ann"), BASE),
        lambda: edits.send_back(waiting, decision("ann", reason="better")),
    ):
        with pytest.raises(Refused, match="Nobody approves"):
            rule()


@pytest.mark.parametrize("state", ["draft", "published", "set-aside"])
def test_only_what_was_handed_in_is_decided_on(state: str) -> None:
    with pytest.raises(InputError, match="Only an edit that was handed in"):
        edits.approve(draft(state=state), decision(), BASE)


def test_what_the_reader_has_not_seen_is_not_approved(waiting: Edit) -> None:
    again = edits.hand_in(edits.take_back(waiting, "ann", later(2)), "ann", 2, later(3))
    with pytest.raises(Stale, match="changed since you opened it"):
        edits.approve(again, decision(revision=1), BASE)
    assert edits.approve(again, decision(revision=2), BASE).state == "published"


def test_an_edit_of_a_text_no_longer_in_force_is_not_approved(waiting: Edit) -> None:
    with pytest.raises(Stale, match="would be lost"):
        edits.approve(waiting, decision(), fingerprint(OTHER))


def test_sent_back_it_is_a_draft_that_says_why(waiting: Edit) -> None:
    with pytest.raises(InputError, match="Say what should be changed"):
        edits.send_back(waiting, decision())
    back = edits.send_back(waiting, decision(reason="say which tools"))
    assert (back.state, back.reader, back.reason) == ("draft", "ben", "say which tools")
    again = edits.hand_in(back, "ann", 1, later(70))
    assert (again.reader, again.reason, again.decided) == ("", "", None)


@pytest.mark.parametrize(
    "rule",
    [
        lambda edit: edits.revise(edit, "ben", 1, edit),
        lambda edit: edits.hand_in(edit, "ben", 1, later(1)),
        lambda edit: edits.take_back(edit, "ben", later(1)),
        lambda edit: edits.set_aside(edit, "ben", later(1)),
    ],
)
def test_only_the_author_moves_a_draft(rule: Callable[[Edit], Edit]) -> None:
    with pytest.raises(Refused, match="another author"):
        rule(draft())


def test_a_draft_is_handed_in_with_a_note_and_without_marks_of_a_merge() -> None:
    with pytest.raises(InputError, match="what you changed and why"):
        edits.hand_in(draft(note=""), "ann", 1, later(1))
    with pytest.raises(InputError, match="still marked"):
        edits.hand_in(draft(text=f"{CHANGED}{THEIRS}\n"), "ann", 1, later(1))
    with pytest.raises(Stale):
        edits.hand_in(draft(), "ann", 2, later(1))


def test_what_was_handed_in_is_not_written_in() -> None:
    with pytest.raises(InputError, match="Take it back first"):
        edits.revise(draft(state="handed-in"), "ann", 1, draft(text=OTHER))


def test_what_a_browser_sends_becomes_the_text_of_a_file() -> None:
    assert edits.plain("---\r\ntitle: A\r\n---") == "---\ntitle: A\n---\n"
    assert edits.plain("") == ""


def test_outdated_means_another_text_is_in_force() -> None:
    assert not draft().outdated(BASE)
    assert draft().outdated(fingerprint(OTHER))
    assert not replace(draft(), state="published").outdated(fingerprint(OTHER))
