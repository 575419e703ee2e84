"""A record that was tampered with is found out, and the place is named."""

from __future__ import annotations

import json
import re
import subprocess
import zipfile
from pathlib import Path
from random import Random

import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from kb.base.errors import InputError
from kb.cli import main
from kb.exchange.record import build, content, store
from kb.exchange.record.verify import verify
from kb.incidents.notes import make_signer, read_verifier, sign
from kb.incidents.store import keys
from tests.exchange.record.tampering import WAYS, lines_of, with_lines

Files = dict[str, bytes]


def test_a_record_holds_and_says_what_was_checked(files: Files) -> None:
    result = verify(files)
    assert result.faults == []
    assert "200 entries, 3 checkpoints" in result.told[0]
    assert "compare it with one from elsewhere" in result.told[-1]


@pytest.mark.parametrize("way", WAYS)
def test_tampering_is_found_and_its_place_named(files: Files, way: str) -> None:
    for seed in range(10):
        changed, place = WAYS[way](files, Random(seed))
        faults = verify(changed).faults
        assert any(place in fault for fault in faults), (way, seed, place, faults[:5])


def test_who_rewrites_it_all_and_signs_anew_is_found_by_a_key_or_a_checkpoint_from_outside(
    files: Files,
) -> None:
    real = read_verifier(files[content.KEY].decode().strip())
    note = files[f"{content.CHECKPOINTS}{140:010}.txt"].decode()
    false = make_signer(real.name)
    forged = dict(files) | {content.KEY: f"{false.verifier}\n".encode()}
    for name, data in files.items():
        if content.CHECKPOINTS in name:
            text = data.decode().rpartition("\n\n")[0] + "\n"
            forged[name] = sign(text, false).encode()
    pem = false.verifier.key.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
    forged[content.KEY_PEM] = pem
    del forged[content.MANIFEST]
    forged[content.MANIFEST] = sign(build.manifest(forged), false).encode()
    # In itself it fits: that is why a key or a checkpoint must come from elsewhere.
    assert verify(forged).holds
    assert not verify(forged, key=real).holds
    assert not verify(forged, [note]).holds
    assert verify(files, [note], real).holds


def test_a_checkpoint_from_outside_that_another_log_fits_does_not_pass(files: Files) -> None:
    folder = f"{content.COUNTY}{content.CHECKPOINTS}"
    other = next(data for name, data in files.items() if name.startswith(folder))
    assert verify(files, [other.decode()]).holds
    signer = make_signer("else.example")
    faults = verify(files, [sign("else.example/x\n1\n" + "A" * 43 + "=\n", signer)]).faults
    assert any("belongs to another log" in fault for fault in faults)


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        (content.ABOUT, b"{}", "does not name a record"),
        (content.ABOUT, b"no", "is not JSON"),
        (content.KEY, b"name+00000000+AAAA", "key"),
        (content.LEDGER, None, "is missing"),
        (content.DISCLOSURES, b"[]", "is not a JSON object"),
        (content.DISCLOSURES, b'{"1": 7}', "are not a list"),
        (content.DISCLOSURES, b'{"1": [], "1": []}', "a member twice"),
        (content.REDACTIONS, b'[{"sequence": 1, "member": "actor"}]', "without a reason"),
        (content.REDACTIONS, b'[{"sequence": 1, "member": "id", "reason": "x"}]', "yet disclosed"),
        (content.INCLUSION, b"{}\n", "not a proof"),
        (content.CONSISTENCY, b'[{"old": 70, "new": 140, "proof": []}]', "does not go on"),
        (f"{content.CHECKPOINTS}{140:010}.txt", b"no note", "note"),
        (f"{content.ATTACHMENTS}00.md", b"x", "SHA-256"),
    ],
)  # fmt: skip
def test_what_is_missing_or_malformed_is_said(
    files: Files, name: str, data: bytes | None, says: str
) -> None:
    changed = {key: value for key, value in files.items() if key != name}
    if data is not None:
        changed[name] = data
    assert any(says in fault for fault in verify(changed).faults), verify(changed).faults


def test_a_member_withheld_without_being_named_is_found(files: Files) -> None:
    told = json.loads(files[content.DISCLOSURES])
    told["7"].pop()
    faults = verify(files | {content.DISCLOSURES: json.dumps(told).encode()}).faults
    assert any("entry 7: 1 members are not disclosed, and 0" in fault for fault in faults)


def test_lines_after_the_last_checkpoint_are_signed_by_nobody(files: Files) -> None:
    faults = verify(with_lines(files, [*lines_of(files), b"{}"])).faults
    assert any("lines 201 to 201 are signed by nobody" in fault for fault in faults)


def test_the_command_ends_with_1_where_it_does_not_hold(zipped: Path, tmp_path: Path) -> None:
    run = CliRunner().invoke(main, ["verify", str(zipped)])
    assert run.exit_code == 0, run.output
    assert run.output.endswith("It holds.\n")
    files = store.read(zipped)
    bad = tmp_path / "bad.zip"
    with zipfile.ZipFile(bad, "w") as archive:
        for name, data in (files | {content.LEDGER: files[content.LEDGER][:-40]}).items():
            archive.writestr(name, data)
    run = CliRunner().invoke(main, ["verify", str(bad), "--json"])
    assert run.exit_code == 1
    assert json.loads(run.output)["holds"] is False
    key = tmp_path / "key.txt"
    key.write_text(str(make_signer("other.example").verifier))
    assert CliRunner().invoke(main, ["verify", str(zipped), "--key", str(key)]).exit_code == 1


def zip_of(path: Path, *members: tuple[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members:
            archive.writestr(name, data)
    return path


def test_a_zip_that_unpacks_to_far_more_than_it_holds_is_not_read(tmp_path: Path) -> None:
    bomb = zip_of(tmp_path / "bomb.zip", (content.LEDGER, bytes(150 * 1024**2)))
    assert bomb.stat().st_size < 1_000_000
    with pytest.raises(InputError, match="unpacks to far more"):
        store.read(bomb)


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_zip_with_a_name_twice_or_no_zip_at_all_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="twice"):
        store.read(zip_of(tmp_path / "twice.zip", ("a", b"1"), ("a", b"2")))
    (tmp_path / "text.zip").write_text("no zip")
    with pytest.raises(InputError, match="cannot be read as a zip"):
        store.read(tmp_path / "text.zip")


def commands(readme: str) -> str:
    """The commands of the instructions: every line that stands in by four, as it stands."""
    _, _, steps = readme.partition("without that program")
    return "\n".join(re.findall(r"^    (.*)$", steps, flags=re.MULTILINE))


def bash(folder: Path, script: str) -> subprocess.CompletedProcess[str]:
    command = ["bash", "-euo", "pipefail", "-c", script]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


def test_the_instructions_with_general_tools_work_to_the_letter(
    zipped: Path, tmp_path: Path
) -> None:
    with zipfile.ZipFile(zipped) as archive:
        archive.extractall(tmp_path)
    script = commands((tmp_path / content.README).read_text())
    run = bash(tmp_path, script)
    assert run.returncode == 0, run.stderr
    assert "Signature Verified Successfully" in run.stdout
    printed = run.stdout.splitlines()
    at = printed.index("200")
    # What root.py prints stands in the signed checkpoint as well.
    assert printed[at : at + 2] == printed[at + 3 : at + 5]
    said = [line for line in printed if line.endswith("- in the entry")]
    assert len(said) == 8
    assert "NOT IN" not in run.stdout
    assert printed.count("Signature Verified Successfully") == 2
    assert "NOT " not in run.stdout
    # And they find a change.
    (tmp_path / content.TABLE).write_bytes(b"forged")
    (tmp_path / content.CERTIFICATE).unlink()
    run = bash(tmp_path, "python3 files.py")
    assert run.stdout.splitlines() == [
        f"{content.TABLE} - NOT WHAT WAS SIGNED",
        f"{content.CERTIFICATE} - NOT THERE",
    ]
    ledger = tmp_path / content.LEDGER
    ledger.write_bytes(ledger.read_bytes().replace(b"incident.closed", b"incident.opened", 1))
    run = bash(tmp_path, "python3 root.py")
    assert run.stdout.splitlines()[1] != printed[at + 1]


def test_many_members_that_together_unpack_to_far_more_are_not_read(tmp_path: Path) -> None:
    pads = [(f"pad{number}", bytes(20 * 1024**2)) for number in range(4)]
    with pytest.raises(InputError, match="unpacks to far more"):
        store.read(zip_of(tmp_path / "pads.zip", *pads))


@pytest.mark.parametrize("name", ["../up", "/root", "a//b", "./ledger.jsonl", "a\\b", "c:b", ".."])
def test_a_zip_with_a_name_that_leads_elsewhere_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match="leads out of its folder"):
        store.read(zip_of(tmp_path / "up.zip", (name, b"x")))


@pytest.mark.parametrize("twin", ["Ledger.jsonl", "ｌedger.jsonl"])
def test_a_zip_with_names_that_some_machines_take_for_one_is_refused(
    tmp_path: Path, twin: str
) -> None:
    with pytest.raises(InputError, match="twice"):
        store.read(zip_of(tmp_path / "twins.zip", ("ledger.jsonl", b"1"), (twin, b"2")))


def test_a_zip_whose_packed_bytes_are_broken_is_refused_in_words(
    zipped: Path, tmp_path: Path
) -> None:
    data = bytearray(zipped.read_bytes())
    with zipfile.ZipFile(zipped) as archive:
        begin = archive.getinfo(content.LEDGER).header_offset + 30 + len(content.LEDGER)
    data[begin : begin + 4] = b"\xff" * 4
    (tmp_path / "broken.zip").write_bytes(data)
    with pytest.raises(InputError, match="cannot be read as a zip"):
        store.read(tmp_path / "broken.zip")


@pytest.mark.parametrize("number", [b"1e999", b"1.5", b"true", b"-1", b"null"])
def test_a_step_between_sizes_that_are_no_numbers_is_a_fault(files: Files, number: bytes) -> None:
    step = b'[{"old":' + number + b',"new":2,"proof":[]}]'
    faults = verify(files | {content.CONSISTENCY: step}).faults
    assert any("is not old, new and proof" in fault for fault in faults)


def test_foreign_words_are_printed_with_their_control_signs_escaped(
    files: Files, tmp_path: Path
) -> None:
    told = json.dumps({"\ud800": [], "\x1b[2J\x1b[HIt holds.": []}).encode()
    changed = files | {content.DISCLOSURES: told}
    bad = zip_of(tmp_path / "bad.zip", *changed.items())
    run = CliRunner().invoke(main, ["verify", str(bad)])
    assert run.exit_code == 1
    assert "\x1b" not in run.output
    assert r"\ud800" in run.output
    assert r"\x1b[2J" in run.output
    odd = zip_of(tmp_path / "odd.zip", ("../\x1b[2J", b"x"))
    run = CliRunner().invoke(main, ["verify", str(odd)])
    assert run.exit_code == 1
    assert "\x1b" not in run.output


def about(files: Files, **changes: object) -> Files:
    """The record with other words in record.json, which nobody signs."""
    told = json.loads(files[content.ABOUT]) | changes
    return files | {content.ABOUT: json.dumps(told).encode()}


FORGED = {content.LEDGER: b'{"_sd":[],"forged":1}\n', content.DISCLOSURES: b"{}"}


def test_a_record_that_names_no_log_does_not_hold(files: Files) -> None:
    key = read_verifier(files[content.KEY].decode().strip())
    faults = verify(about(files, logs={}) | FORGED, key=key).faults
    assert any("the log of the election (in '') is not named" in fault for fault in faults)
    assert any("entries are missing" in fault for fault in faults)


def test_a_true_log_in_another_folder_does_not_cover_for_a_forged_one(files: Files) -> None:
    key = read_verifier(files[content.KEY].decode().strip())
    logs = json.loads(files[content.ABOUT])["logs"]
    own = {name: data for name, data in files.items() if not name.startswith(content.COUNTY)}
    decoy = {f"decoy/{name}": data for name, data in own.items() if name != content.ABOUT}
    forged = about(files, logs={"decoy/": logs[""]}) | decoy | FORGED
    note = files[f"{content.CHECKPOINTS}{140:010}.txt"].decode()
    faults = verify(forged, [note], key).faults
    assert any("it names a log in 'decoy/'" in fault for fault in faults)
    assert any("entries are missing" in fault for fault in faults)


def test_a_record_without_the_countys_log_does_not_hold(files: Files) -> None:
    logs = json.loads(files[content.ABOUT])["logs"]
    kept = {name: data for name, data in files.items() if not name.startswith(content.COUNTY)}
    faults = verify(about(kept, logs={"": logs[""]})).faults
    assert any("county/ledger.jsonl is missing" in fault for fault in faults)
    assert any("the county's log (in 'county/') is not named" in fault for fault in faults)


def test_a_record_that_is_said_to_be_of_another_election_does_not_hold(files: Files) -> None:
    faults = verify(about(files, election="e27")).faults
    assert any("elections/e26, not of" in fault for fault in faults)
    for other in ("", None, 7, "\ud800"):
        assert not verify(about(files, election=other)).holds


def test_a_checkpoint_under_the_name_of_another_size_is_a_fault(files: Files) -> None:
    note = files[f"{content.CHECKPOINTS}{140:010}.txt"]
    faults = verify(files | {f"{content.CHECKPOINTS}{141:010}.txt": note}).faults
    assert any("its name says something else" in fault for fault in faults)


def test_every_checkpoint_from_outside_is_judged_and_named_by_its_file(files: Files) -> None:
    good = files[f"{content.CHECKPOINTS}{140:010}.txt"].decode()
    county = next(
        data.decode()
        for name, data in files.items()
        if name.startswith(f"{content.COUNTY}{content.CHECKPOINTS}")
    )
    assert verify(files, {"a.txt": good, "b.txt": county}).holds
    lines = good.split("\n")
    changed = "\n".join([*lines[:2], lines[2][:-2] + "A=", *lines[3:]])
    another = make_signer("else.example")
    foreign = sign("else.example/x\n1\n" + "A" * 43 + "=\n", another)
    for bad in (foreign, changed, "no note"):
        faults = verify(files, {"good.txt": good, "bad.txt": bad}).faults
        assert len(faults) == 1
        assert faults[0].startswith("bad.txt: ")


def test_a_signed_checkpoint_from_outside_that_does_not_fit_is_named(
    worked: Path, files: Files
) -> None:
    signer = keys.signer(worked)
    good = files[f"{content.CHECKPOINTS}{140:010}.txt"].decode()
    origin = good.partition("\n")[0]
    fork = sign(f"{origin}\n140\n" + "A" * 43 + "=\n", signer)
    longer = sign(f"{origin}\n900\n" + "A" * 43 + "=\n", signer)
    elsewhere = sign(f"{signer.name}/elections/e27\n1\n" + "A" * 43 + "=\n", signer)
    told = {"good.txt": good, "fork.txt": fork, "longer.txt": longer, "else.txt": elsewhere}
    faults = verify(files, told).faults
    assert len(faults) == 3
    for name in ("fork.txt", "longer.txt", "else.txt"):
        assert any(name in fault for fault in faults), name
