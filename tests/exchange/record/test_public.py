"""The public copy: nothing of what may not be public stands in any byte of it, and it verifies.

What is withheld follows common practice in answering requests for election records; the
reasons are told in the copy itself.
"""

from __future__ import annotations

import base64
import csv
import hashlib
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest

from kb.base.clock import now
from kb.exchange.devicelog_store import take
from kb.exchange.record import content, public, store
from kb.exchange.record.policy import policy
from kb.exchange.record.public import Policy, redacted, withheld
from kb.exchange.record.table import quarter
from kb.exchange.record.verify import verify
from kb.incidents import lists
from kb.incidents.bodies import TEXT_MEMBERS
from kb.incidents.store.folder import Folder, open_folder
from kb.people.accounts import Account
from tests.exchange.record.conftest import CLASSES, Export
from tests.incidents.telling import HOTLINE, MANAGER, at, county, entry, event

OPEN = Policy({}, {}, {})


def disclosed(files: dict[str, bytes]) -> Iterator[tuple[str, str, Any]]:
    """Kind, member and value of everything that a copy discloses."""
    for where in ("", content.COUNTY):
        lines = files[where + content.LEDGER].split(b"\n")
        for number, told in json.loads(files[where + content.DISCLOSURES]).items():
            kind = json.loads(lines[int(number) - 1])["kind"]
            for one in told:
                _, name, value = json.loads(base64.urlsafe_b64decode(one + "=" * (-len(one) % 4)))
                yield kind, name.removeprefix("body."), value


def plain_bytes(files: dict[str, bytes]) -> bytes:
    """Every byte of every file, and every disclosure decoded."""
    told = json.dumps(list(disclosed(files)), ensure_ascii=False).encode()
    return b"\n".join([*files.values(), told])


def test_a_copy_with_a_third_redacted_verifies_and_holds_no_redacted_word(
    folder: Folder, export: Export
) -> None:
    words = [f"secret word {number} of a caller" for number in range(60)]
    told = [
        entry("incident.described", {"words": text, "screen": text[::-1]}, incident=f"case-{n}")
        for n, text in enumerate(words)
    ]
    folder.record.take(told, HOTLINE)
    chosen = Random(7).sample(range(60), 18)
    hide = [
        entry(
            "text.withheld",
            {"event": told[n]["id"], "reason": "names a voter"},
            incident=f"case-{n}",
        )
        for n in chosen
    ]
    # The rest was read and found fit.
    clear = [
        entry("text.cleared", {"event": told[n]["id"]}, incident=f"case-{n}")
        for n in range(60)
        if n not in chosen
    ]
    receipts = folder.record.take([*hide, *clear], MANAGER)
    assert {receipt.state for receipt in receipts} == {"new"}
    for is_public in (False, True):
        files = export(folder, "e26", public=is_public)
        assert verify(files).faults == []
        whole = plain_bytes(files)
        for n in chosen:
            assert words[n].encode() not in whole
            assert words[n][::-1].encode() not in whole
        assert all(words[n].encode() in whole for n in range(60) if n not in chosen)


def test_a_correction_does_not_bring_a_redacted_word_back(folder: Folder, export: Export) -> None:
    first = entry("incident.described", {"words": "told by Wren Tallow", "effect": "slowed"})
    folder.record.take([first], HOTLINE)
    fix = entry(
        "event.corrected",
        {"event": first["id"], "replacement": {"words": "by Wren Tallow"}, "reason": "not W. T."},
        minute=1,
    )
    again = entry(
        "event.corrected", {"event": first["id"], "replacement": {"effect": "slowed"}}, minute=2
    )
    folder.record.take([fix, again], HOTLINE)
    hide = entry("text.withheld", {"event": first["id"], "members": ["words"], "reason": "a name"})
    folder.record.take([hide], MANAGER)
    files = export(folder, "e26", public=False)
    assert b"Tallow" not in plain_bytes(files)
    assert verify(files).faults == []


@pytest.fixture(scope="module")
def copy(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The public copy of the demo's day."""
    opened, out = open_folder(demo), tmp_path_factory.mktemp("copy") / "copy.zip"
    store.export(opened, "today", out, CLASSES, public=True, now=now())
    opened.close()
    return store.read(out)


def test_the_demos_public_copy_verifies_and_each_redaction_has_its_reason(
    copy: dict[str, bytes],
) -> None:
    assert verify(copy).faults == []
    known = {
        value for name, value in vars(public).items() if name.isupper() and isinstance(value, str)
    }
    reasons = {one["reason"] for one in json.loads(copy[content.REDACTIONS])}
    assert reasons <= known
    assert {public.PERSON, public.TIME, public.WORDS, public.SEAL, public.ROUTE} <= reasons


def test_no_exact_time_no_person_no_seal_no_route_no_typed_word_is_left(
    copy: dict[str, bytes], demo: Path
) -> None:
    told = list(disclosed(copy))
    instant = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d")
    assert not [one for one in told if isinstance(one[2], str) and instant.match(one[2])]
    gone = {"actor", "rover", "seal", "seals", "route", "phone", "call_back", "person"}
    assert not [one for one in told if one[1] in gone]
    assert not [one for one in told if one[1] in TEXT_MEMBERS and not one[0].endswith(".recorded")]
    opened = open_folder(demo)
    people, devices = opened.people.all(), opened.record.devices()
    opened.close()
    whole = plain_bytes({name: data for name, data in copy.items() if name != content.README})
    for person in people:
        assert person.name.encode() not in whole
        assert f'"{person.login}"'.encode() not in whole
    for seal in {seal for device in devices for seal in device.seals}:
        assert seal.encode() not in whole


def test_no_count_under_ten_is_left(copy: dict[str, bytes]) -> None:
    counts = {"stored", "accepted", "returned", "ballots_affected", "voters_affected", "public"}
    small = [one for one in disclosed(copy) if one[1] in counts and 0 < one[2] < 10]
    assert small == []
    rows = list(csv.DictReader(io.StringIO(copy[content.TABLE].decode())))
    assert len(rows) > 10
    for row in rows:
        for name in ("ballots_affected", "voters_affected"):
            assert not (row[name].isdigit() and 0 < int(row[name]) < 10)
        assert row["words"] == row["note"] == ""


def test_times_in_the_table_are_quarters_of_an_hour(copy: dict[str, bytes]) -> None:
    rows = list(csv.DictReader(io.StringIO(copy[content.TABLE].decode())))
    times = [row[name] for row in rows for name in ("reported", "started", "restored") if row[name]]
    assert len(times) > 20
    assert all(re.search(r":(00|15|30|45):00Z$", time) for time in times)


@pytest.mark.parametrize(
    ("minute", "expected"), [(0, 0), (7, 0), (7.6, 15), (22.4, 15), (22.6, 30), (52.6, 60)]
)
def test_a_time_goes_to_the_nearest_quarter(minute: float, expected: float) -> None:
    assert quarter(at(minute)) == at(expected)


def test_a_count_from_which_a_small_one_could_be_told_goes_with_it() -> None:
    told = event("ballots.tallied", {"stored": 23, "accepted": 20, "returned": 3})
    hidden = withheld(told, OPEN)
    assert {name for name, why in hidden.items() if why == public.SMALL} == {
        "body.stored",
        "body.accepted",
        "body.returned",
    }
    large = event("ballots.tallied", {"stored": 43, "accepted": 20, "returned": 23})
    assert public.SMALL not in withheld(large, OPEN).values()


@pytest.mark.parametrize(
    ("kind", "body", "member", "why"),
    [
        ("search.picked", {"article": "hotspot-no-signal"}, "article", public.VEIL),
        ("search.picked", {"article": "passcode-envelope-open"}, "article", public.VEIL),
        ("tree.answered", {"tree": "hotspot-no-signal", "hash": "0", "step": "a", "answer": "y"},
         "answer", public.VEIL),
        ("incident.described", {"symptom": "code-refused"}, "symptom", public.VEIL),
        ("incident.described", {"symptom": "will-not-connect"}, "symptom", public.VEIL),
        ("incident.described", {"symptom": "frozen"}, "symptom", public.VEIL),
        ("incident.described", {"style_stopped": True}, "style_stopped", public.SMALL),
        ("incident.described", {"style_stopped": False}, "style_stopped", public.SMALL),
        ("witness.named", {"name": "Wren"}, "name", public.PERSON),
        ("decision.made", {"text": "restart"}, "text", public.WORDS),
        ("place.opened", {"place": "P01", "seals": ["K1"]}, "seals", public.SEAL),
        ("rover.sent", {"rover": "ro01"}, "rover", public.ROUTE),
        ("voting.restored", {"reason": "x"}, "reason", public.WORDS),
    ],
)  # fmt: skip
def test_what_is_withheld_and_why(kind: str, body: dict[str, Any], member: str, why: str) -> None:
    rules = policy([], CLASSES | {"passcode-envelope-open": "security"})
    assert (
        withheld(
            event(kind, body, incident=None if kind.startswith("place.") else "case-1"), rules
        )[f"body.{member}"]
        == why
    )


def about(case: str, symptom: str, article: str) -> list[dict[str, object]]:
    return [
        entry("incident.described", {"symptom": symptom}, incident=case),
        entry("search.picked", {"article": article}, incident=case),
    ]


def test_that_a_symptom_is_withheld_does_not_tell_which(folder: Folder, export: Export) -> None:
    told = [
        about("case-1", "code-refused", "passcode-envelope-open"),
        about("case-2", "will-not-connect", "hotspot-no-signal"),
        about("case-3", "frozen", "scanner-frozen"),
        about("case-4", "jam", "hotspot-no-signal"),
        about("case-5", "jam", "jam-at-entry"),
    ]
    folder.record.take([one for case in told for one in case], HOTLINE)
    files = export(folder, "e26", public=True)
    assert verify(files).faults == []
    reasons = {
        (one["sequence"] + 1) // 2: one["reason"]
        for one in json.loads(files[content.REDACTIONS])
        if one["member"] in {"body.symptom", "body.article"}
    }
    assert reasons == dict.fromkeys(range(1, 5), public.VEIL)
    symptoms = [value for _, name, value in disclosed(files) if name == "symptom"]
    assert symptoms == ["jam"]
    rows = csv.DictReader(io.StringIO(files[content.TABLE].decode()))
    assert [row["symptom"] for row in rows] == ["", "", "", "", "jam"]


def test_a_case_is_veiled_by_a_correction_as_well(folder: Folder, export: Export) -> None:
    first = about("case-1", "jam", "jam-at-entry")
    folder.record.take(first, HOTLINE)
    fix = {"event": first[0]["id"], "replacement": {"symptom": "code-refused"}}
    folder.record.take([entry("event.corrected", fix, minute=1)], HOTLINE)
    files = export(folder, "e26", public=True)
    assert not {"symptom", "article"} & {name for _, name, _ in disclosed(files)}
    (row,) = csv.DictReader(io.StringIO(files[content.TABLE].decode()))
    assert row["symptom"] == ""


def test_the_veil_covers_more_than_what_is_secret() -> None:
    assert {"code-refused", "will-not-connect"} < public.VEILED <= lists.SYMPTOMS.keys()
    assert len(public.VEILED) >= 8


def test_the_table_holds_no_count_that_an_entry_withholds(folder: Folder, export: Export) -> None:
    told = entry("incident.described", {"ballots_affected": 12, "voters_affected": 3})
    folder.record.take([told], HOTLINE)
    files = export(folder, "e26", public=True)
    (row,) = csv.DictReader(io.StringIO(files[content.TABLE].decode()))
    assert (row["ballots_affected"], row["voters_affected"]) == ("", "fewer than 10")


LINE = "told by Wren Tallow, 555-0134"
LINES: list[tuple[str, dict[str, Any], str]] = [
    ("device.swapped", {"memory": LINE}, "memory"),
    ("seal.removed", {"seal": "K1", "where": LINE}, "where"),
    ("seal.applied", {"seal": "K1", "state": LINE}, "state"),
    ("compartment.opened", {"compartment": LINE}, "compartment"),
    ("ballots.moved", {"from": LINE}, "from"),
    ("ballots.moved", {"to": LINE}, "to"),
    ("ballots.moved", {"container": LINE}, "container"),
    ("call.offered", {"line": LINE}, "line"),
    ("witness.named", {"name": "Wren", "role": LINE}, "role"),
    ("tree.answered", {"tree": "t", "hash": "0" * 64, "step": "s", "answer": LINE}, "answer"),
    ("forms.issued", {"first": 1, "last": 9, "to": LINE}, "to"),
    ("log.received", {"asset": "S", "file": LINE, "sha256": "0" * 64, "events": 1}, "file"),
]
ACTION = {"action": "a", "text": "t", "element": "planning", "owner": "o", "due": "2027-01-01"}
LINES += [
    ("action.stated", ACTION | {"state": "done", name: LINE}, name)
    for name in ("finding", "measure")
]
NO_CASE = frozenset({"forms.issued", "log.received", "action.stated"})


@pytest.mark.parametrize(("kind", "body", "member"), LINES)
def test_a_short_line_is_withheld_until_it_was_read_and_can_be_redacted(
    kind: str, body: dict[str, Any], member: str
) -> None:
    case = None if kind in NO_CASE else "case-1"
    told = event(kind, body, incident=case)
    assert withheld(told, OPEN)[f"body.{member}"] == public.WORDS
    for act in ("text.cleared", "text.withheld"):
        about = {"event": told.id, "members": [member]}
        about |= {"reason": "r"} if act == "text.withheld" else {}
        rules = policy([told, event(act, about, minute=1, incident=case)], {})
        expected = public.REDACTED if act == "text.withheld" else None
        assert withheld(told, rules).get(f"body.{member}") == expected
        assert redacted(told, rules) == ({f"body.{member}": expected} if expected else {})


def test_a_line_that_the_program_offers_is_public() -> None:
    told = event("seal.removed", {"seal": "K1", "where": "main ballot box", "state": "whole"})
    assert not {"body.where", "body.state"} & withheld(told, OPEN).keys()


def test_a_hash_that_is_none_is_a_typed_line() -> None:
    told = event("search.picked", {"article": "jam", "hash": LINE})
    assert withheld(told, OPEN)["body.hash"] == public.WORDS
    real = event("search.picked", {"article": "jam", "hash": "ab" * 32})
    assert "body.hash" not in withheld(real, OPEN)


@pytest.mark.parametrize("act", ["text.cleared", "text.withheld"])
def test_an_old_act_that_names_no_member_means_the_texts_alone(act: str) -> None:
    told = event("seal.removed", {"seal": "K1", "where": LINE})
    about = {"event": told.id} | ({"reason": "r"} if act == "text.withheld" else {})
    rules = policy([told, event(act, about, minute=1)], {})
    assert withheld(told, rules)["body.where"] == public.WORDS


def test_the_hash_that_names_an_imported_line_is_withheld() -> None:
    # It is a hash of the whole line without salt: who guesses the seal would find it confirmed.
    row = next(one for one in county() if one.kind == "device.recorded")
    assert withheld(row, OPEN)["id"] == public.GUESSED


def test_no_id_is_left_from_which_a_withheld_time_or_word_could_be_tried_out() -> None:
    # In older records the case's id was the form's, and the form's id is all of the secret.
    told = event("voting.restored", {"reason": "x"})
    assert withheld(told, OPEN)["id"] == public.GUESSED
    for kind, member in (
        ("event.corrected", "event"),
        ("correction.refused", "asked"),
        ("text.withheld", "event"),
        ("notice.read", "notice"),
    ):
        reason = {} if kind == "notice.read" else {"reason": "r"}
        case = None if kind == "notice.read" else "case-1"
        repeats = event(kind, {member: told.id} | reason, incident=case)
        assert withheld(repeats, OPEN)[f"body.{member}"] == public.GUESSED


def test_a_public_copy_names_no_entry_by_its_id_and_verifies(
    folder: Folder, export: Export
) -> None:
    told = entry("note.added", {"text": "first"})
    folder.record.take([told], HOTLINE)
    fix = entry("event.corrected", {"event": told["id"], "replacement": {"text": "second"}})
    folder.record.take([fix], HOTLINE)
    files = export(folder, "e26", public=True)
    assert verify(files).faults == []
    whole = plain_bytes(files)
    assert str(told["id"]).encode() not in whole
    assert str(fix["id"]).encode() not in whole


def test_the_full_record_says_everything_that_is_not_redacted(
    folder: Folder, export: Export
) -> None:
    told = entry("note.added", {"text": "all of it"})
    folder.record.take([told], HOTLINE)
    files = export(folder, "e26", public=False)
    assert json.loads(files[content.REDACTIONS]) == []
    assert ("note.added", "text", "all of it") in list(disclosed(files))
    assert content.CERTIFICATE in files


def test_the_texts_of_secret_trees_are_in_the_record_and_in_no_public_copy(
    folder: Folder, export: Export
) -> None:
    names = {}
    for number, tree in enumerate(("keys-missing-or-wrong", "ballot-jam")):
        text = f"the text of {tree}"
        names[tree] = hashlib.sha256(text.encode()).hexdigest()
        folder.record.keep_text(names[tree], text)
        body = {"tree": tree, "hash": names[tree], "step": "first", "answer": "yes"}
        folder.record.take([entry("tree.answered", body, incident=f"case-{number}")], HOTLINE)
    attached = {tree: f"{content.ATTACHMENTS}{name}.md" for tree, name in names.items()}
    classes = dict.fromkeys(names, "security")
    whole = export(folder, "e26", public=False, classes=classes)
    assert set(attached.values()) <= whole.keys()
    copied = export(folder, "e26", public=True, classes=classes)
    assert verify(copied).faults == []
    assert attached["ballot-jam"] in copied
    assert attached["keys-missing-or-wrong"] not in copied


def test_devices_own_logs_are_in_the_record_and_in_no_public_copy(
    folder: Folder, export: Export, tmp_path: Path
) -> None:
    at_noon = "2026-11-03T12:00:00Z"
    told = {"@type": "EventLogging.Event", "Type": "vote", "Disposition": "success"}
    told |= {"Id": "ballot-cast", "Sequence": "1", "TimeStamp": at_noon}
    device = {"@type": "EventLogging.Device", "Id": "SC-1", "Event": [told]}
    log = {"@type": "EventLogging.ElectionEventLog", "GeneratedTime": at_noon, "Device": [device]}
    (tmp_path / "log.json").write_text(json.dumps(log))
    actor = Account("m.one", "", frozenset({"manager"}))
    take(folder, tmp_path / "log.json", actor=actor, election="e26")
    whole, copied = (export(folder, "e26", public=public) for public in (False, True))
    assert verify(whole).faults == verify(copied).faults == []
    assert any(b"ballot-cast" in data for data in whole.values())
    assert b"ballot-cast" not in plain_bytes(copied)
