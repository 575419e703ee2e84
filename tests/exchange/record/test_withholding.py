"""Who passes a record on cannot leave parts of it out: only what the office redacted may lack."""

from __future__ import annotations

import base64
import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from kb.exchange.record import content
from kb.exchange.record.verify import verify
from kb.incidents.store.folder import Folder, create, open_folder
from tests.exchange.record.conftest import Export
from tests.incidents.telling import HOTLINE, MANAGER, county, entry

Files = dict[str, bytes]


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Folder]:
    create(tmp_path / "county", "")
    opened = open_folder(tmp_path / "county")
    opened.record.append(county())
    yield opened
    opened.close()


def name_of(disclosure: str) -> str:
    padded = disclosure + "=" * (-len(disclosure) % 4)
    return str(json.loads(base64.urlsafe_b64decode(padded))[1])


def hide(files: Files, sequence: int, member: str, called: str = "") -> Files:
    """What a stranger does who passes a record on: a disclosure out, a line of redaction in."""
    told = json.loads(files[content.DISCLOSURES])
    kept = [one for one in told[str(sequence)] if name_of(one) != member]
    assert len(kept) == len(told[str(sequence)]) - 1
    line = {"sequence": sequence, "member": called or member, "reason": "redacted by the office"}
    said = [*json.loads(files[content.REDACTIONS]), line]
    return files | {
        content.DISCLOSURES: json.dumps(told | {str(sequence): kept}).encode(),
        content.REDACTIONS: json.dumps(said).encode(),
    }


@pytest.mark.parametrize(
    "member", ["id", "incident", "happened", "sent", "received", "actor", "body.words"]
)
def test_no_member_is_withheld_from_a_record_but_by_the_office(files: Files, member: str) -> None:
    faults = verify(hide(files, 2, member)).faults
    assert any("entry 2" in fault and member in fault for fault in faults), faults


def test_everything_hidden_does_not_hold(files: Files) -> None:
    lines = files[content.LEDGER].split(b"\n")[:-1]
    said = [
        {"sequence": at, "member": f"x{number}", "reason": "r"}
        for at, line in enumerate(lines, 1)
        for number, _ in enumerate(json.loads(line)["_sd"])
    ]
    hidden = {content.DISCLOSURES: b"{}", content.REDACTIONS: json.dumps(said).encode()}
    assert not verify(files | hidden).holds


def test_a_redaction_of_the_office_covers_no_other_member(folder: Folder, export: Export) -> None:
    told = entry("incident.described", {"words": "by W. T.", "effect": "slowed", "screen": "E2"})
    folder.record.take([told], HOTLINE)
    redaction = {"event": told["id"], "members": ["words"], "reason": "a name"}
    folder.record.take([entry("text.withheld", redaction)], MANAGER)
    files = export(folder, "e26", public=False)
    assert verify(files).faults == []
    # Neither by its name, nor under another that the redaction would cover, nor named twice.
    for called in ("body.effect", "body.note", "body.screen", "body.words"):
        assert not verify(hide(files, 1, "body.effect", called)).holds, called
    assert not verify(hide(files, 1, "body.screen")).holds


def test_a_redaction_of_all_texts_covers_no_name_that_such_an_entry_cannot_have(
    folder: Folder, export: Export
) -> None:
    told = entry("incident.described", {"words": "by W. T.", "effect": "slowed"})
    folder.record.take([told], HOTLINE)
    folder.record.take([entry("text.withheld", {"event": told["id"], "reason": "a name"})], MANAGER)
    files = export(folder, "e26", public=False)
    assert verify(files).faults == []
    assert not verify(hide(files, 1, "body.effect", "body.note")).holds


def test_a_redaction_is_not_struck_out_and_goes_on_to_cover(folder: Folder, export: Export) -> None:
    told = entry("incident.described", {"words": "nobody's name", "effect": "slowed"})
    folder.record.take([told], HOTLINE)
    redaction = entry("text.withheld", {"event": told["id"], "reason": "a slip"})
    struck = entry("event.corrected", {"event": redaction["id"], "reason": "no name"}, minute=1)
    receipts = folder.record.take([redaction, struck], MANAGER)
    assert [receipt.state for receipt in receipts] == ["new", "refused"]
    files = export(folder, "e26", public=False)
    assert verify(files).faults == []
    assert "nobody's name" not in files[content.DISCLOSURES].decode()


def test_two_redactions_of_one_member_or_of_no_entry_are_faults(files: Files) -> None:
    for line in ({"sequence": 999, "member": "x"}, {"sequence": True, "member": "id"},
                 {"sequence": 1, "member": None}):  # fmt: skip
        said = json.dumps([line | {"reason": "r"}]).encode()
        assert not verify(files | {content.REDACTIONS: said}).holds
