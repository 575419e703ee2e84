"""The signing key and checkpoints from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kb.cli import main
from kb.incidents.checkpoint import parse
from kb.incidents.notes import open_note, read_verifier
from kb.incidents.store import create, keys, open_folder
from tests.incidents.telling import county
from tests.incidents.test_tree import notes


def run(*words: str, data: Path) -> Result:
    return CliRunner().invoke(main, [*words, "--data", str(data)], env={"LATCHBOOK_DATA": None})


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A folder with two elections, of which one has entries."""
    path = tmp_path / "county"
    create(path)
    folder = open_folder(path)
    folder.record.append([*county(), *notes(4)])
    folder.close()
    return path


def test_keys_refuses_to_replace_what_is_there(data: Path) -> None:
    before = (data / keys.FOLDER / keys.SIGNING).read_bytes()
    done = run("keys", data=data)
    assert done.exit_code == 1
    assert "nothing was changed" in done.stderr
    assert (data / keys.FOLDER / keys.SIGNING).read_bytes() == before


def test_keys_makes_what_a_folder_lacks_and_prints_the_public_one(data: Path) -> None:
    for name in (keys.SIGNING, keys.VERIFIER):
        (data / keys.FOLDER / name).unlink()
    done = run("keys", data=data)
    assert done.exit_code == 0
    assert str(read_verifier(done.output.splitlines()[-1])) == str(keys.verifier(data))
    assert (data / keys.FOLDER / keys.SIGNING).read_text().strip() not in done.output


def test_keys_go_only_into_a_data_folder(tmp_path: Path) -> None:
    done = run("keys", data=tmp_path)
    assert done.exit_code == 1
    assert "is no data folder" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_checkpoint_prints_the_signed_note_and_nothing_else(data: Path) -> None:
    done = run("checkpoint", "e26", data=data)
    assert done.exit_code == 0
    assert parse(open_note(done.stdout, [keys.verifier(data)])).size == 4
    assert run("checkpoint", "e26", data=data).stdout == done.stdout


def test_checkpoint_of_an_unknown_election_names_the_known_ones(data: Path) -> None:
    done = run("checkpoint", "spring", data=data)
    assert done.exit_code == 1
    assert "Known: e24, e26." in done.stderr


def test_checkpoint_without_a_key_says_how_to_make_one(data: Path) -> None:
    (data / keys.FOLDER / keys.SIGNING).unlink()
    done = run("checkpoint", "e26", data=data)
    assert done.exit_code == 1
    assert "latchbook keys" in done.stderr
