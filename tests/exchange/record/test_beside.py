"""What lies beside the logs is checked too: names, key file, attachments, table, manifest.

Most is tried on records without a manifest, as those made before there was one.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import pytest

from kb.base.clock import now
from kb.exchange.record import build, content, store
from kb.exchange.record.content import Log
from kb.exchange.record.verify import verify
from kb.incidents.checkpoint import Checkpoint, origin
from kb.incidents.leaf import Leaf, leaf, leaf_hash, make_salts
from kb.incidents.merkle import nodes_over, root_at
from kb.incidents.notes import make_signer, read_verifier, sign
from kb.incidents.store import keys
from kb.incidents.store.folder import Folder, open_folder
from tests.exchange.record.conftest import CLASSES, Export
from tests.incidents.telling import HOTLINE, MANAGER, entry, event

Files = dict[str, bytes]
PICTURE = b"\xff\xd8 no real picture"


@pytest.fixture
def older(files: Files) -> Files:
    """The record as it was made before there was a manifest."""
    return {name: data for name, data in files.items() if name != content.MANIFEST}


@pytest.fixture(scope="module")
def day(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Files:
    """The record of the demo's day, with corrections, walks of trees and attachments."""
    opened, out = open_folder(demo), tmp_path_factory.mktemp("day") / "record.zip"
    store.export(opened, "today", out, CLASSES, public=False, now=now())
    opened.close()
    return store.read(out)


def test_the_demos_record_holds_and_so_does_one_without_manifest(day: Files) -> None:
    assert verify(day).faults == []
    assert not any(content.MANIFEST in told for told in verify(day).told)
    older = {name: data for name, data in day.items() if name != content.MANIFEST}
    result = verify(older)
    assert result.faults == []
    assert any(f"{content.MANIFEST} is missing, as in records" in told for told in result.told)


@pytest.mark.parametrize(
    "name",
    ["extra.txt", "Ledger.jsonl", "./ledger.jsonl", "../../evil", "county/table.csv",
     "checkpoints/x", "decoy/ledger.jsonl", "attachments/evil.html"],
)  # fmt: skip
def test_a_file_that_no_record_has_is_a_fault(older: Files, name: str) -> None:
    faults = verify(older | {name: b"x"}).faults
    assert any(name in fault for fault in faults), faults


@pytest.mark.parametrize(
    "name", [content.README, content.KEY_PEM, content.TABLE, content.CERTIFICATE]
)
def test_a_file_that_every_record_has_is_named_where_it_lacks(older: Files, name: str) -> None:
    faults = verify({key: data for key, data in older.items() if key != name}).faults
    assert f"{name} is missing in the record." in faults


def test_the_key_for_general_tools_is_the_one_that_signed(older: Files) -> None:
    faults = verify(older | {content.KEY_PEM: b"another"}).faults
    assert any(fault.startswith(f"{content.KEY_PEM}: it is not the key") for fault in faults)


def test_the_table_is_the_one_that_the_entries_give(older: Files, day: Files) -> None:
    assert verify(older).faults == []
    for data in (b"case\nforged\n", older[content.TABLE].replace(b"slowed", b"none", 1), b"\xff"):
        faults = verify(older | {content.TABLE: data}).faults
        assert any(fault.startswith(content.TABLE) for fault in faults)
    cut = day[content.TABLE].rpartition(b"\r\n")[0].rpartition(b"\r\n")[0] + b"\r\n"
    assert any(content.TABLE in fault for fault in verify(day | {content.TABLE: cut}).faults)


def test_the_table_of_a_record_with_a_withheld_correction_is_still_compared(
    folder: Folder, export: Export
) -> None:
    first = entry("incident.described", {"words": "told by W. T.", "effect": "slowed"})
    other = entry("incident.described", {"words": "the lid", "effect": "stopped"}, incident="c2")
    replacement = {"words": "by W. T.", "effect": "device"}
    fix = entry("event.corrected", {"event": first["id"], "replacement": replacement}, minute=1)
    folder.record.take([first, fix, other], HOTLINE)
    hide = entry("text.withheld", {"event": first["id"], "members": ["words"], "reason": "a name"})
    folder.record.take([hide], MANAGER)
    files = export(folder, "e26", public=False)
    assert verify(files).faults == []
    del files[content.MANIFEST]
    changed = files[content.TABLE].replace(b"stopped", b"none")
    assert changed != files[content.TABLE]
    assert any("row 3" in fault for fault in verify(files | {content.TABLE: changed}).faults)


@pytest.fixture
def pictured(folder: Folder, export: Export) -> Files:
    """A record, without manifest, with one picture; another one is redacted."""
    one, two = folder.pictures.keep(PICTURE), folder.pictures.keep(PICTURE + b"2")
    shown = entry("picture.added", {"picture": one})
    hidden = entry("picture.added", {"picture": two})
    folder.record.take([shown, hidden], HOTLINE)
    redaction = {"event": hidden["id"], "members": ["picture"], "reason": "a face"}
    receipts = folder.record.take([entry("text.withheld", redaction)], MANAGER)
    assert {receipt.state for receipt in receipts} == {"new"}
    files = export(folder, "e26", public=False)
    assert verify(files).faults == []
    return {name: data for name, data in files.items() if name != content.MANIFEST}


def test_attachments_are_those_that_entries_name(pictured: Files) -> None:
    assert verify(pictured).faults == []
    name = f"{content.ATTACHMENTS}{hashlib.sha256(PICTURE).hexdigest()}.jpg"
    faults = verify({key: data for key, data in pictured.items() if key != name}).faults
    assert any("is missing: entry 1 names it" in fault for fault in faults)
    for data, ending in ((b"evil", "html"), (PICTURE + b"2", "jpg"), (b"evil", "md")):
        added = f"{content.ATTACHMENTS}{hashlib.sha256(data).hexdigest()}.{ending}"
        faults = verify(pictured | {added: data}).faults
        assert any("no entry names it" in fault for fault in faults), ending
    twin = name.replace(".jpg", ".JPG")
    assert not verify(pictured | {twin: PICTURE}).holds


def test_a_picture_that_the_office_never_had_is_told_and_is_no_fault(
    folder: Folder, export: Export
) -> None:
    folder.record.take([entry("picture.added", {"picture": "0" * 64})], HOTLINE)
    files = export(folder, "e26", public=False)
    result = verify(files)
    assert result.faults == []
    assert any("is missing: entry 1 names it" in told for told in result.told)
    del files[content.MANIFEST]
    assert not verify(files).holds


@pytest.mark.parametrize("public", [False, True])
def test_with_a_manifest_no_file_can_be_exchanged_dropped_or_added(
    demo: Path, tmp_path: Path, public: object
) -> None:
    opened = open_folder(demo)
    store.export(opened, "today", tmp_path / "x.zip", CLASSES, public=bool(public), now=now())
    opened.close()
    files = store.read(tmp_path / "x.zip")
    assert verify(files).faults == []
    for name in files.keys() - {content.MANIFEST}:
        assert not verify({key: data for key, data in files.items() if key != name}).holds, name
    for name in (content.README, content.TABLE, content.REDACTIONS, content.ABOUT):
        faults = verify(files | {name: files[name] + b"\n"}).faults
        assert any(f"signed in {content.MANIFEST}" in fault for fault in faults), name


def test_a_public_copy_that_withholds_more_than_the_office_did_is_found(
    folder: Folder, export: Export
) -> None:
    folder.record.take([entry("incident.described", {"effect": "stopped"})], HOTLINE)
    files = export(folder, "e26", public=True)
    told = json.loads(files[content.DISCLOSURES])
    told["1"].pop()
    said = json.loads(files[content.REDACTIONS])
    said.append({"sequence": 1, "member": "body.effect", "reason": "names or describes a person"})
    changed = files | {
        content.DISCLOSURES: json.dumps(told).encode(),
        content.REDACTIONS: json.dumps(said).encode(),
    }
    faults = verify(changed).faults
    assert any(fault.startswith(content.REDACTIONS) for fault in faults)


def test_a_manifest_of_another_key_or_of_another_text_is_a_fault(
    worked: Path, files: Files
) -> None:
    own = read_verifier(files[content.KEY].decode().strip())
    text = files[content.MANIFEST].decode().rpartition("\n\n")[0] + "\n"
    for note in (
        sign(text, make_signer(own.name)),
        sign("something else\n", keys.signer(worked)),
        "no note",
    ):
        assert not verify(files | {content.MANIFEST: note.encode()}).holds


ODD: list[tuple[str, dict[str, object]]] = [
    ("text.withheld", {}),
    ("text.withheld", {"event": ["x"], "members": {"a": 1}}),
    ("event.corrected", {"event": "0", "replacement": {"effect": 7}, "happened": "never"}),
    ("incident.described", {"flags": 3, "effect": {"a": []}, "wait_minutes": "long"}),
    ("incident.reported", {"started": 12, "place": [1]}),
    ("rover.sent", {}),
    ("ballots.tallied", {"stored": "many", "returned": None}),
    ("incident.imported", {"reported_at": "x", "cause": ["a"]}),
    ("picture.added", {"picture": 5}),
    ("no.such.kind", {"x": "\x1b"}),
]


@pytest.mark.parametrize(("kind", "body"), ODD)
def test_whatever_a_stranger_signs_is_judged_without_a_crash(
    files: Files, kind: str, body: dict[str, object]
) -> None:
    signer = make_signer("stranger.example")
    told = [replace(event("note.added", {"text": "x"}), kind=kind, body=body, id=str(at))
            for at in range(2)]  # fmt: skip
    made = [Leaf(at, leaf(one, salts), one, salts)
            for at, one in enumerate(told, 1) for salts in [make_salts(one)]]  # fmt: skip
    forged = dict(files) | {content.KEY: f"{signer.verifier}\n".encode()}
    for folder, log in (("", "e26"), (content.COUNTY, "")):
        hashes = [leaf_hash(one.data) for one in made]
        name = origin(signer.name, log)
        note = sign(Checkpoint(name, 2, root_at(nodes_over(hashes), 2)).text(), signer)
        huge = sign(f"{name}\n{'9' * 5000}\n{'A' * 43}=\n", signer)
        forged |= build.log_files(folder, Log(name, made, {2: note}, hashes, []))
        forged[f"{folder}{content.CHECKPOINTS}9999999999.txt"] = huge.encode()
    assert not verify(forged).holds
