"""From draft to signed to frozen; after that a change takes two people. Invented data."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from kb.authoring import worksheet
from kb.authoring.edits import Stale
from kb.authoring.sheet import Sheet, Signature, sheet_yaml
from kb.authoring.worksheet import Act, Entry, Worksheet, by_rule, fold
from kb.base.errors import InputError, NotFound, Refused
from kb.base.ids import fingerprint

AT = datetime(2026, 10, 1, 12, tzinfo=UTC)
SIGNATURE = Signature("Dana Quill", "County counsel", date(2026, 10, 1))
YES, NO = Sheet("fall", {"lift": True}), Sheet("fall", {"lift": False})


def act(by: str = "ann", seen: int | None = None) -> Act:
    return Act(by, AT, seen)


class Walked:
    """A worksheet to which each rule adds its entry, as the store does."""

    def __init__(self) -> None:
        self.entries: list[Entry] = []

    @property
    def now(self) -> Worksheet:
        return fold("fall", self.entries)

    def take(self, entry: Entry) -> None:
        self.entries.append(Entry(**{**vars(entry), "number": len(self.entries) + 1}))


@pytest.fixture
def walked() -> Walked:
    return Walked()


@pytest.fixture
def signed(walked: Walked) -> Walked:
    walked.take(worksheet.save(walked.now, act(), YES))
    walked.take(worksheet.sign(walked.now, act(), SIGNATURE))
    return walked


@pytest.fixture
def frozen(signed: Walked) -> Walked:
    signed.take(worksheet.freeze(signed.now, act(), "a list of texts\n"))
    return signed


@pytest.fixture
def asked(frozen: Walked) -> Walked:
    frozen.take(worksheet.save(frozen.now, act(), NO))
    frozen.take(worksheet.ask(frozen.now, act(), "the lift is broken"))
    return frozen


def test_nothing_and_an_unsigned_draft_are_the_strictest(walked: Walked) -> None:
    assert walked.now.state == "empty"
    assert walked.now.sheet == Sheet("fall")
    walked.take(worksheet.save(walked.now, act(), YES))
    assert walked.now.state == "draft"
    assert walked.now.sheet.answers == {}
    assert walked.now.working == YES


def test_a_file_that_claims_a_signature_is_not_in_force_as_a_draft(walked: Walked) -> None:
    claimed = Sheet("fall", {"lift": True}, signed=SIGNATURE)
    walked.take(worksheet.save(walked.now, act(), claimed))
    assert walked.now.sheet.answers == {}


def test_signing_puts_the_draft_into_force(signed: Walked) -> None:
    assert signed.now.state == "signed"
    assert signed.now.sheet == Sheet("fall", {"lift": True}, signed=SIGNATURE)
    assert signed.now.draft is None
    with pytest.raises(InputError, match="nothing to sign"):
        worksheet.sign(signed.now, act(), SIGNATURE)


def test_a_new_draft_changes_nothing_until_it_is_signed(signed: Walked) -> None:
    signed.take(worksheet.save(signed.now, act(), NO))
    assert signed.now.sheet.answers == {"lift": True}
    signed.take(worksheet.sign(signed.now, act(), SIGNATURE))
    assert signed.now.sheet.answers == {"lift": False}
    kept = [entry.sheet.answers for entry in signed.entries if entry.act == "signed"]
    assert kept == [{"lift": True}, {"lift": False}]


def test_what_was_signed_is_what_was_looked_at(walked: Walked) -> None:
    walked.take(worksheet.save(walked.now, act(), YES))
    walked.take(worksheet.save(walked.now, act("ben"), NO))
    with pytest.raises(Stale, match="last by ben"):
        worksheet.sign(walked.now, act(seen=1), SIGNATURE)
    with pytest.raises(Stale):
        worksheet.save(walked.now, act(seen=1), YES)
    assert worksheet.sign(walked.now, act(seen=2), SIGNATURE).sheet.answers == {"lift": False}


def test_only_a_signed_sheet_without_a_draft_is_frozen(signed: Walked) -> None:
    with pytest.raises(InputError, match="Only a signed"):
        worksheet.freeze(fold("fall", []), act(), "")
    signed.take(worksheet.save(signed.now, act(), NO))
    with pytest.raises(InputError, match="draft that is not signed"):
        worksheet.freeze(signed.now, act(), "")


def test_the_freeze_names_the_sheet_and_the_library(frozen: Walked) -> None:
    entry = frozen.now.frozen
    assert entry is not None
    assert entry.reason == fingerprint(frozen.entries[1].text)
    assert entry.library == fingerprint("a list of texts\n")
    assert frozen.now.state == "frozen"
    with pytest.raises(InputError, match="frozen already"):
        worksheet.freeze(frozen.now, act(), "")
    frozen.take(worksheet.save(frozen.now, act(), NO))
    with pytest.raises(InputError, match="frozen"):
        worksheet.sign(frozen.now, act(), SIGNATURE)
    assert frozen.now.sheet.answers == {"lift": True}


def test_a_notice_needs_a_freeze_a_change_and_a_reason(signed: Walked, frozen: Walked) -> None:
    with pytest.raises(InputError, match="Nothing has changed"):
        worksheet.ask(frozen.now, act(), "why")
    frozen.take(worksheet.save(frozen.now, act(), NO))
    with pytest.raises(InputError, match="Say why"):
        worksheet.ask(frozen.now, act(), "")
    with pytest.raises(InputError, match="not frozen yet"):
        worksheet.ask(fold("fall", signed.entries[:2]), act(), "why")


def test_nobody_approves_their_own_notice(asked: Walked) -> None:
    with pytest.raises(Refused, match="another person"):
        worksheet.decide(asked.now, act("ann"), 5, approve=True, reason="")
    assert asked.now.sheet.answers == {"lift": True}


def test_a_second_person_lets_it_into_force_and_the_old_sheet_is_kept(asked: Walked) -> None:
    assert asked.now.waiting == asked.entries[4]
    asked.take(worksheet.decide(asked.now, act("ben"), 5, approve=True, reason=""))
    assert asked.now.sheet.answers == {"lift": False}
    assert asked.now.sheet.signed is None
    assert asked.now.waiting is None
    assert asked.entries[1].sheet.answers == {"lift": True}
    with pytest.raises(Stale):
        worksheet.decide(asked.now, act("cleo"), 5, approve=True, reason="")


def test_a_notice_is_declined_with_a_reason_or_withdrawn(asked: Walked) -> None:
    with pytest.raises(InputError, match="declined"):
        worksheet.decide(asked.now, act("ben"), 5, approve=False, reason="")
    asked.take(worksheet.decide(asked.now, act("ann"), 5, approve=False, reason="withdrawn"))
    assert asked.now.sheet.answers == {"lift": True}
    assert asked.now.waiting is None


def test_one_notice_at_a_time(asked: Walked) -> None:
    with pytest.raises(InputError, match="waits for a second person"):
        worksheet.save(asked.now, act("ben"), YES)
    with pytest.raises(NotFound):
        asked.now.notice(99)


def test_differences_are_told_in_the_order_of_the_worksheet() -> None:
    before, after = {"a": True, "b": False, "old": True}, {"b": True, "c": False}
    assert by_rule(before, after, ["c", "a", "b", "d"]) == [
        ("c", None, False),
        ("a", True, None),
        ("b", False, True),
        ("old", True, None),
    ]


def test_an_entry_holds_the_sheets_file() -> None:
    entry = worksheet.save(fold("fall", []), act(), YES)
    assert entry.text == sheet_yaml(YES)
    assert entry.sheet == YES
