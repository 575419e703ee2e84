"""Edits in the database: publishing whole or not at all, history for ever, upgrades beneath."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from sqlite_utils.utils import sqlite3

from kb.authoring import edits
from kb.authoring.edits import Decision, Edit, Stale, Version
from kb.authoring.store import Editions, migrations
from kb.base.database import Store, connect
from kb.base.errors import InputError, NotFound, Refused
from kb.base.ids import fingerprint
from tests.authoring.telling import CHANGED, OTHER, SHIPPED, SLUG, WHERE, decision, draft, later

NOW_SHIPPED = fingerprint(SHIPPED)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    path = tmp_path / "county.db"
    database = connect(path)
    migrations.apply(database)
    database.close()
    opened = Store(path)
    yield opened
    opened.close()


@pytest.fixture
def editions(store: Store) -> Editions:
    return Editions(store)


def handed_in(editions: Editions, edit: Edit) -> Edit:
    editions.begin(edit, [SHIPPED])
    return editions.change(edit.id, lambda old: edits.hand_in(old, old.author, 1, later(1)))


def publish(
    editions: Editions, edit: Edit, reader: str = "ben", shipped: str = NOW_SHIPPED
) -> Version:
    handed_in(editions, edit)
    return editions.publish(edit.id, decision(reader), shipped)


def test_what_is_stored_comes_back(editions: Editions) -> None:
    begun = editions.begin(draft(), [SHIPPED])
    assert editions.edit("e1") == begun
    assert editions.text(NOW_SHIPPED) == SHIPPED
    assert editions.edits() == [begun]
    assert editions.edits("another") == []
    with pytest.raises(NotFound):
        editions.edit("e9")


def test_publishing_puts_the_text_in_force_and_keeps_who_and_why(editions: Editions) -> None:
    assert (editions.version(), editions.published()) == (0, {})
    version = publish(editions, draft())
    assert editions.version() == 1
    one = editions.published()[SLUG]
    assert (one.where, one.text, one.shipped_hash) == (WHERE, CHANGED, NOW_SHIPPED)
    assert editions.history(SLUG) == [version]
    assert (version.number, version.author, version.reader) == (1, "ann", "ben")
    assert (version.note, version.published) == ("why", later(60))
    assert editions.edit("e1").state == "published"
    assert editions.edits() == []


def test_a_refused_publication_changes_nothing(editions: Editions) -> None:
    waiting = handed_in(editions, draft())
    with pytest.raises(Refused):
        editions.publish("e1", decision("ann"), NOW_SHIPPED)
    with pytest.raises(Stale):
        editions.publish("e1", decision(revision=7), NOW_SHIPPED)
    with pytest.raises(Stale):
        editions.publish("e1", decision(), fingerprint("shipped anew"))
    assert editions.edit("e1") == waiting
    assert editions.version() == 0


def test_of_two_editors_the_second_is_told_and_keeps_the_text(editions: Editions) -> None:
    handed_in(editions, draft("e2", OTHER, "cas"))
    publish(editions, draft())
    with pytest.raises(Stale, match="would be lost"):
        editions.publish("e2", decision(), NOW_SHIPPED)
    theirs = editions.edit("e2")
    assert theirs.outdated(fingerprint(CHANGED))
    assert theirs.text == OTHER
    assert editions.published()[SLUG].text == CHANGED
    assert editions.text(theirs.base) == SHIPPED


def test_going_back_to_the_shipped_text_follows_it_from_then_on(editions: Editions) -> None:
    publish(editions, draft())
    back = draft("e2", SHIPPED, base=CHANGED)
    publish(editions, back)
    assert editions.published() == {}
    assert [one.number for one in editions.history(SLUG)] == [2, 1]
    assert editions.version() == 2
    upgraded = "shipped anew\n"
    again = draft("e3", OTHER, base=upgraded, shipped=fingerprint(upgraded))
    publish(editions, again, shipped=fingerprint(upgraded))
    assert editions.published()[SLUG].text == OTHER


def test_an_old_version_comes_back_by_a_second_reader_too(editions: Editions) -> None:
    publish(editions, draft())
    publish(editions, draft("e2", OTHER, base=CHANGED))
    old = editions.history(SLUG)[-1]
    publish(editions, draft("e3", old.text, base=OTHER))
    assert editions.published()[SLUG].text == CHANGED
    assert [one.text for one in editions.history(SLUG)] == [CHANGED, OTHER, CHANGED]


def test_a_draft_that_takes_the_place_of_another_sets_it_aside(editions: Editions) -> None:
    old = editions.begin(draft())
    merged = draft("e2", OTHER)
    editions.begin(merged, instead_of=old)
    assert editions.edits() == [merged]
    assert editions.edit("e1").text == CHANGED
    assert editions.edits(states=("set-aside",)) == [replace(old, state="set-aside")]
    waiting = editions.change("e2", lambda old: edits.hand_in(old, "ann", 1, later(1)))
    with pytest.raises(InputError):
        editions.begin(draft("e3"), instead_of=waiting)
    with pytest.raises(NotFound):
        editions.edit("e3")


@pytest.mark.parametrize("table", ["editions", "edition_texts"])
@pytest.mark.parametrize("statement", ["DELETE FROM {}", "UPDATE {} SET hash = 'x'"])
def test_what_was_published_is_never_changed(
    store: Store, editions: Editions, table: str, statement: str
) -> None:
    publish(editions, draft())
    with pytest.raises(sqlite3.DatabaseError, match="kept for ever"):
        store.write(lambda database: database.execute(statement.format(table)))
    assert editions.published()[SLUG].text == CHANGED


@pytest.mark.parametrize("reader", ["", "ann"])
def test_the_tables_too_refuse_an_edit_approved_by_its_author(
    store: Store, editions: Editions, reader: str
) -> None:
    handed_in(editions, draft())
    change = "UPDATE edits SET state = 'published', reader = ?"
    with pytest.raises(sqlite3.IntegrityError):
        store.write(lambda database: database.execute(change, [reader]))


def test_one_decision_publishes_once(editions: Editions) -> None:
    publish(editions, draft())
    with pytest.raises(InputError, match="published"):
        editions.publish("e1", Decision("ben", 1, "", later(61)), NOW_SHIPPED)
    assert editions.version() == 1
