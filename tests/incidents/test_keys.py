"""The signing key: made once, readable by its owner alone, never replaced."""

from __future__ import annotations

import stat
import sys
from pathlib import Path

import pytest

from kb.base.errors import StateError
from kb.incidents.notes import open_note, sign
from kb.incidents.store import create, keys, open_folder


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in (folder / keys.FOLDER).iterdir()}


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such modes")
def test_init_makes_keys_that_only_the_owner_reads(tmp_path: Path) -> None:
    create(tmp_path / "county", 'county = "Example County"\n')
    made = tmp_path / "county" / keys.FOLDER
    assert mode(made) == 0o700
    assert mode(made / keys.SIGNING) == 0o600
    assert sorted(path.name for path in made.iterdir()) == ["signing-key", "verifier-key"]


def test_the_public_key_opens_what_the_private_one_signs(tmp_path: Path) -> None:
    verifier = keys.make(tmp_path, "Example County")
    note = sign("a text\n", keys.signer(tmp_path))
    assert open_note(note, [keys.verifier(tmp_path)]) == "a text\n"
    assert str(verifier) == (tmp_path / keys.FOLDER / keys.VERIFIER).read_text().strip()


@pytest.mark.parametrize(
    ("county", "expected"),
    [
        ("Example County", "example-county"),
        ("  Sankt-Örtlich & Söhne  ", "sankt-ortlich-sohne"),
        ("A+B\tC", "a-b-c"),
        ("郡", "county"),
        ("", "county"),
    ],
)
def test_the_name_is_plain_and_no_two_are_the_same(county: str, expected: str) -> None:
    one, two = keys.key_name(county), keys.key_name(county)
    assert one.startswith(f"{expected}-")
    assert one.endswith(".latchbook")
    assert one != two
    assert one.isascii()
    assert " " not in one
    assert "+" not in one


def test_keys_that_are_there_are_never_replaced(tmp_path: Path) -> None:
    keys.make(tmp_path, "Example County")
    before = contents(tmp_path)
    with pytest.raises(StateError, match="they stay"):
        keys.make(tmp_path, "Example County")
    assert contents(tmp_path) == before


def test_a_lost_public_key_is_made_again_from_the_private_one(tmp_path: Path) -> None:
    keys.make(tmp_path, "Example County")
    before = contents(tmp_path)
    (tmp_path / keys.FOLDER / keys.VERIFIER).unlink()
    keys.make(tmp_path, "Another Name")
    assert contents(tmp_path) == before


def test_a_lost_private_key_is_not_quietly_replaced(tmp_path: Path) -> None:
    keys.make(tmp_path, "Example County")
    (tmp_path / keys.FOLDER / keys.SIGNING).unlink()
    with pytest.raises(StateError, match="Put the signing key back"):
        keys.make(tmp_path, "Example County")
    assert not keys.there(tmp_path)
    assert list(contents(tmp_path)) == [keys.VERIFIER]


def test_a_folder_without_keys_opens_says_so_and_makes_none(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    path = tmp_path / "county"
    create(path)
    (path / keys.FOLDER / keys.SIGNING).unlink()
    (path / keys.FOLDER / keys.VERIFIER).unlink()
    opened = open_folder(path)
    opened.close()
    assert "has no signing key; make one: latchbook keys" in caplog.text
    assert contents(path) == {}
    with pytest.raises(StateError, match="latchbook keys"):
        keys.signer(path)
    with pytest.raises(StateError, match="latchbook keys"):
        keys.verifier(path)


def test_a_broken_key_is_told_with_its_path_and_not_shown(tmp_path: Path) -> None:
    keys.make(tmp_path, "Example County")
    for name, read in ((keys.SIGNING, keys.signer), (keys.VERIFIER, keys.verifier)):
        path = tmp_path / keys.FOLDER / name
        line = path.read_text()
        path.write_text(line[:-9])
        with pytest.raises(StateError, match=f"{name} cannot be used") as caught:
            read(tmp_path)
        assert line[-30:-10] not in str(caught.value)
