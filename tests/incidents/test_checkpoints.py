"""Checkpoints in the folder: one a size, each continuing the last, signed with the county's key."""

from __future__ import annotations

import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest
from sqlite_utils import Database

from kb.base.database import Store
from kb.base.errors import StateError
from kb.incidents import merkle
from kb.incidents.checkpoint import origin, parse
from kb.incidents.notes import open_note
from kb.incidents.store import Record, keys
from kb.incidents.store.checkpoints import Checkpoints
from kb.incidents.store.hourly import make_due
from tests.incidents.telling import OPENING, at
from tests.incidents.test_tree import notes

COPY = "INSERT INTO checkpoints SELECT {log}, {size}, root, note, made, reason FROM checkpoints"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    keys.make(tmp_path, "Example County")
    return tmp_path


@pytest.fixture
def checkpoints(store: Store, folder: Path) -> Checkpoints:
    return Checkpoints(store, folder)


def test_a_checkpoint_says_origin_size_and_root_under_the_countys_key(
    record: Record, checkpoints: Checkpoints, folder: Path
) -> None:
    record.append(notes(5))
    made = checkpoints.make("e26", "asked", at(1))
    verifier = keys.verifier(folder)
    read = parse(open_note(made.note, [verifier]))
    assert (read.origin, read.size) == (origin(verifier.name, "e26"), 5)
    assert read.root == made.root == record.tree_root("e26")
    assert checkpoints.latest("e26") == checkpoints.of_size("e26", 5) == made


def test_the_same_size_is_given_back_and_not_signed_again(
    record: Record, checkpoints: Checkpoints
) -> None:
    record.append(notes(3))
    first = checkpoints.make("e26", "hourly", at(1))
    assert checkpoints.make("e26", "asked", at(2)) == first
    record.append(notes(1))
    second = checkpoints.make("e26", "asked", at(3))
    assert [one.size for one in checkpoints.all("e26")] == [4, 3]
    assert checkpoints.all("e26") == [second, first]
    proof = record.consistency("e26", 3, 4)
    assert merkle.verify_consistency(3, 4, first.root, second.root, proof)


def test_each_log_is_signed_for_itself(record: Record, checkpoints: Checkpoints) -> None:
    record.append([*notes(2), *notes(2, "e24")])
    assert checkpoints.make("", "asked", at(0)).size == record.log_size("") > 2
    one, other = (checkpoints.make(log, "asked", at(0)).note for log in ("e24", "e26"))
    assert one.split("\n")[0] != other.split("\n")[0]


def test_an_empty_log_has_nothing_to_sign(record: Record, checkpoints: Checkpoints) -> None:
    assert record.log_size("e26") == 0
    with pytest.raises(StateError, match="no entry in this log yet"):
        checkpoints.make("e26", "asked", at(0))


def test_without_a_key_nothing_is_signed(store: Store, record: Record, tmp_path: Path) -> None:
    record.append(notes(2))
    with pytest.raises(StateError, match="latchbook keys"):
        Checkpoints(store, tmp_path).make("e26", "asked", at(0))


@pytest.mark.parametrize(
    "attack",
    [
        "UPDATE nodes SET hash = zeroblob(32) WHERE log = 'e26' AND level = 2 AND position = 0",
        "UPDATE ledger SET hash = zeroblob(32) WHERE log = 'e26' AND sequence = 5",
    ],
)
def test_a_log_that_was_changed_past_the_guards_is_not_signed_again(
    record: Record, store: Store, checkpoints: Checkpoints, attack: str
) -> None:
    record.append(notes(5))
    checkpoints.make("e26", "asked", at(0))

    def change(database: Database) -> None:
        database.execute("DROP TRIGGER nodes_no_update")
        database.execute("DROP TRIGGER ledger_no_update")
        database.execute(attack)

    store.write(change)
    record.append(notes(2))
    with pytest.raises(StateError, match="does not continue what was signed at 5 entries"):
        checkpoints.make("e26", "asked", at(1))
    assert len(checkpoints.all("e26")) == 1


def test_only_what_the_standby_holds_is_signed(store: Store, record: Record, folder: Path) -> None:
    held = {"e26": 0}
    checkpoints = Checkpoints(store, folder, held=lambda log: held[log])
    record.append(notes(6))
    with pytest.raises(StateError, match="that the standby holds"):
        checkpoints.make("e26", "asked", at(0))
    held["e26"] = 4
    made = checkpoints.make("e26", "asked", at(1))
    assert made.size == 4
    assert made.root == record.tree_root("e26", 4)
    held["e26"] = 3
    assert checkpoints.make("e26", "asked", at(2)) == made
    held["e26"] = 99
    assert checkpoints.make("e26", "asked", at(3)).size == 6


@pytest.mark.parametrize(
    ("attack", "message"),
    [
        ("UPDATE checkpoints SET note = ''", "append-only"),
        ("DELETE FROM checkpoints", "append-only"),
        ("INSERT OR REPLACE INTO checkpoints SELECT * FROM checkpoints", "larger"),
        (COPY.format(log="log", size="size - 1"), "larger"),
        (COPY.format(log="'new'", size="0"), "CHECK"),
    ],
)
def test_what_was_signed_cannot_be_rewritten(
    record: Record, store: Store, checkpoints: Checkpoints, attack: str, message: str
) -> None:
    record.append(notes(3))
    made = checkpoints.make("e26", "asked", at(0))
    raw = sqlite3.connect(str(store.path), isolation_level=None)
    with pytest.raises(sqlite3.Error, match=message):
        raw.execute(attack)
    raw.close()
    assert checkpoints.all("e26") == [made]


def test_each_hour_and_at_the_close_if_the_log_has_grown(
    record: Record, checkpoints: Checkpoints
) -> None:
    """The invented day: polls from 7:00 (minute 0) to 20:00 (minute 780)."""
    election = record.election("e26")
    assert election
    assert election.closing() - OPENING == timedelta(hours=13)
    made = []
    for minute in range(0, 15 * 60, 5):
        if minute not in range(100, 300):
            record.append(notes(1))
        made += [
            (one.made, one.reason)
            for one in make_due(record, checkpoints, at(minute))
            if one.log == "e26"
        ]
    hours = {
        reason: [when for when, why in made if why == reason] for reason in ("hourly", "close")
    }
    assert hours["close"] == [at(780)]
    # None while nothing came in, from minute 120 to 300; then each hour from there.
    assert hours["hourly"] == [
        at(minute) for minute in (0, 60, 120, 300, 360, 420, 480, 540, 600, 660, 720, 840)
    ]


def test_a_log_that_cannot_be_signed_does_not_hinder_the_others(
    record: Record,
    store: Store,
    checkpoints: Checkpoints,
    caplog: pytest.LogCaptureFixture,
) -> None:
    record.append([*notes(3), *notes(3, "e24")])
    assert len(make_due(record, checkpoints, at(0))) == 3

    def change(database: Database) -> None:
        database.execute("DROP TRIGGER nodes_no_update")
        database.execute("UPDATE nodes SET hash = zeroblob(32) WHERE log = 'e24'")

    store.write(change)
    record.append([*notes(3), *notes(3, "e24")])
    assert [one.log for one in make_due(record, checkpoints, at(70))] == ["e26"]
    assert "does not continue" in caplog.text
