"""Worksheets in the database: added to only, two people held by it, whole after a kill."""

from __future__ import annotations

import hashlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from random import Random

import pytest
from sqlite_utils.utils import sqlite3

from kb.authoring import worksheet
from kb.authoring.manifest import changed, manifest
from kb.authoring.sheet import Sheet, sheet_yaml
from kb.authoring.worksheet_store import Worksheets, migrations
from kb.base.database import Store, connect
from kb.base.errors import InputError, NotFound
from kb.library.article import Library
from kb.library.ownwords import OwnWord
from kb.library.store import load
from tests.authoring.signer import ANSWERS, sheet
from tests.authoring.test_worksheet import NO, SIGNATURE, YES, act

ROOT = Path(__file__).parents[2]
GOOD = ROOT / "tests" / "fixtures" / "library_good"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    database = connect(tmp_path / "county.db")
    migrations.apply(database)
    database.close()
    return tmp_path / "county.db"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    opened = Store(path)
    yield opened
    opened.close()


@pytest.fixture
def worksheets(store: Store) -> Worksheets:
    return Worksheets(store)


def sign(worksheets: Worksheets, given: Sheet) -> None:
    worksheets.take(
        given.election,
        lambda before: worksheet.save(before, act(), given),
        lambda before: worksheet.sign(before, act(), SIGNATURE),
    )


def freeze_and_ask(worksheets: Worksheets) -> None:
    worksheets.take(
        "fall",
        lambda before: worksheet.freeze(before, act(), "list"),
        lambda before: worksheet.save(before, act(), NO),
        lambda before: worksheet.ask(before, act(), "why"),
    )


def test_answers_and_words_are_those_of_the_signed_sheet_of_that_election(
    worksheets: Worksheets,
) -> None:
    own = {"rover": OwnWord("runner", "runners")}
    given = Sheet("fall", {"lift": True}, words=own)
    worksheets.take("fall", lambda before: worksheet.save(before, act(), given))
    assert worksheets.answers("fall") == {}
    assert worksheets.own_words("fall") == {}
    assert worksheets.version() == 0
    worksheets.take("fall", lambda before: worksheet.sign(before, act(), SIGNATURE))
    assert worksheets.answers("fall") == {"lift": True}
    assert worksheets.own_words("fall") == own
    assert worksheets.version() == 1
    assert worksheets.answers("spring") == {}


def test_the_version_rises_with_a_notice_but_not_with_a_freeze(worksheets: Worksheets) -> None:
    sign(worksheets, YES)
    freeze_and_ask(worksheets)
    assert worksheets.version() == 1
    worksheets.take(
        "fall", lambda before: worksheet.decide(before, act("ben"), 5, approve=True, reason="")
    )
    assert worksheets.version() == 2
    assert worksheets.answers("fall") == {"lift": False}
    assert worksheets.entry(2).sheet.answers == {"lift": True}


def test_what_a_rule_refuses_leaves_nothing_behind(worksheets: Worksheets) -> None:
    with pytest.raises(InputError):
        worksheets.take(
            "fall",
            lambda before: worksheet.save(before, act(), YES),
            lambda before: worksheet.freeze(before, act(), "list"),
        )
    assert worksheets.worksheet("fall").state == "empty"
    with pytest.raises(NotFound):
        worksheets.entry(1)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE worksheet_entries SET text = ''",
        "DELETE FROM worksheet_entries",
        "INSERT OR REPLACE INTO worksheet_entries SELECT * FROM worksheet_entries WHERE number = 1",
    ],
)
def test_the_database_keeps_every_sheet(
    store: Store, worksheets: Worksheets, statement: str
) -> None:
    sign(worksheets, YES)
    with pytest.raises(sqlite3.IntegrityError, match="kept for ever"):
        store.write(lambda database: database.execute(statement))
    assert worksheets.answers("fall") == {"lift": True}


def test_the_database_lets_nobody_approve_their_own_notice(
    store: Store, worksheets: Worksheets
) -> None:
    sign(worksheets, YES)
    freeze_and_ask(worksheets)
    row = "INSERT INTO worksheet_entries VALUES (NULL, 'fall', 'approved', ?, 'x', ?, '', 5, '')"
    with pytest.raises(sqlite3.IntegrityError, match="nobody approves their own notice"):
        store.write(lambda database: database.execute(row, ["ann", sheet_yaml(NO)]))


@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
@pytest.mark.slow
def test_a_kill_leaves_a_whole_sheet(path: Path) -> None:
    random = Random(5)
    for _ in range(5):
        command = [sys.executable, "-m", "tests.authoring.signer", str(path)]
        with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None
            said = [process.stdout.readline() for _ in range(random.randrange(2, 5))]
            time.sleep(random.random() * 0.004)
            os.kill(process.pid, signal.SIGKILL)
            said += process.stdout
        store = Store(path)
        found = Worksheets(store)
        whole = [int(line) for line in said if line.endswith("\n")]
        assert found.version() in {whole[-1], whole[-1] + 1}
        assert found.answers("fall") == sheet(found.version()).answers
        assert len(found.answers("fall")) == ANSWERS
        # Draft and signature came in one transaction, so no draft is ever left by itself.
        assert found.worksheet("fall").draft is None
        store.close()


@pytest.fixture(scope="module")
def library() -> Library:
    return load(GOOD)[0]


def test_the_library_is_named_by_the_hash_of_each_file(library: Library) -> None:
    listed = dict(
        reversed(line.split("  ", 1))
        for line in manifest(library).splitlines()  # type: ignore[misc]
    )
    for slug, article in library.articles.items():
        assert listed[slug] == hashlib.sha256(Path(article.where).read_bytes()).hexdigest()
    assert set(library.trees) <= set(listed)
    assert changed(manifest(library), manifest(library)) == []
    lines = manifest(library).splitlines(keepends=True)
    gone = lines[0].split("  ", 1)[1].strip()
    assert changed("".join(lines), "".join(lines[1:])) == [gone]
