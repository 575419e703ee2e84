"""Entries of no case as they count now: corrected, struck out, redacted."""

from __future__ import annotations

from kb.incidents.standing import standing
from kb.incidents.store import Record
from tests.incidents.telling import event

WITNESS = {"name": "Wren Tallow", "role": "judge"}


def test_what_is_shown_is_what_counts(record: Record) -> None:
    sent = [
        event("notice.sent", {"text": text}, incident=None, minute=minute)
        for minute, text in enumerate(("first", "second", "third", "fourth"))
    ]
    changes = [
        event("event.corrected", {"event": sent[1].id, "replacement": {"text": "2nd"}},
              incident=None, minute=10),
        event("event.corrected", {"event": sent[2].id}, incident=None, minute=11),
        event("text.withheld", {"event": sent[0].id, "reason": "names"}, incident=None, minute=12),
    ]  # fmt: skip
    assert {receipt.state for receipt in record.append([*sent, *changes])} == {"new"}
    shown = record.standing("notice.sent", "e26")
    assert [one.body["text"] for one in shown] == ["[redacted]", "2nd", "fourth"]
    assert next(one.body["text"] for one in record.told("notice.sent", "e26")) == "first"
    assert record.standing("notice.sent", "e24") == []


def test_a_withholding_of_a_correction_means_what_it_corrected(record: Record) -> None:
    sent = event("notice.sent", {"text": "first"}, incident=None)
    fixed = event("event.corrected", {"event": sent.id, "replacement": {"text": "Wren Tallow"}},
                  incident=None, minute=1)  # fmt: skip
    hides = event("text.withheld", {"event": fixed.id, "reason": "r"}, incident=None, minute=2)
    record.append([sent, fixed, hides])
    (shown,) = record.standing("notice.sent", "e26")
    assert shown.body["text"] == "[redacted]"


def test_a_withholding_is_not_struck_out(record: Record) -> None:
    sent = event("notice.sent", {"text": "first"}, incident=None)
    hides = event("text.withheld", {"event": sent.id, "reason": "r"}, incident=None, minute=1)
    struck = event("event.corrected", {"event": hides.id}, incident=None, minute=2)
    record.append([sent, hides, struck])
    assert [one.body["text"] for one in record.standing("notice.sent", "e26")] == ["[redacted]"]


def test_a_count_is_corrected_by_two(record: Record) -> None:
    body = {"place": "P01", "counted": 9, "explained": "first"}
    told = event("place.reconciled", body, incident=None)
    change = {"event": told.id, "replacement": body | {"explained": "second"}, "reason": "r"}
    asked = event("correction.asked", change, incident=None, minute=1)
    alone = event("event.corrected", change | {"asked": asked.id}, incident=None, minute=2,
                  actor="le01")  # fmt: skip
    record.append([told, asked])
    assert [one.body["explained"] for one in record.standing("place.reconciled", "e26")] == [
        "first"
    ]
    record.append([alone])
    assert [one.body["explained"] for one in record.standing("place.reconciled", "e26")] == [
        "second"
    ]


def test_a_correction_that_waits_hides_what_its_target_hides() -> None:
    named = event("witness.named", WITNESS)
    asked = event("correction.asked", {"event": named.id, "reason": "spelled wrong",
                  "replacement": WITNESS | {"name": "Wren Talow"}}, minute=1)  # fmt: skip
    only = event("text.withheld", {"event": named.id, "members": ["name"], "reason": "r"}, minute=2)
    one, two = standing([asked, named], [named, asked, only])
    assert one.body["replacement"] == {"name": "[redacted]", "role": "judge"}
    assert one.body["reason"] == "spelled wrong"
    assert two.body == {"name": "[redacted]", "role": "judge"}
    every = event("text.withheld", {"event": named.id, "reason": "r"}, minute=3)
    (one,) = standing([asked], [named, asked, every])
    assert one.body["reason"] == "[redacted]"
