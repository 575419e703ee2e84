"""Searches and decisions in the database. All words are invented."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from sqlite_utils.utils import sqlite3

from kb.authoring.learning import LONGEST_PHRASE, Search, key
from kb.authoring.learning_store import Learning, migrations
from kb.base.database import Store, connect
from kb.base.errors import InputError
from kb.incidents.personal import looks_personal
from tests.authoring.telling import NOW, later

GATE = Search("the gate is shut", False, "building-locked", "hotline", NOW, "case-1", "new")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    database = connect(tmp_path / "county.db")
    migrations.apply(database)
    database.close()
    opened = Store(tmp_path / "county.db")
    yield opened
    opened.close()


@pytest.fixture
def learning(store: Store) -> Learning:
    return Learning(store, looks_personal)


def test_a_search_comes_back_as_it_was_kept(learning: Learning) -> None:
    assert learning.keep_search(GATE)
    assert learning.searches() == [GATE]


def test_a_page_loaded_again_is_no_second_search(learning: Learning) -> None:
    for one in (GATE, replace(GATE, at=later(5), why="nothing")):
        learning.keep_search(one)
    assert learning.searches() == [GATE]
    learning.keep_search(replace(GATE, case="case-2"))
    learning.keep_search(replace(GATE, at=later(24 * 60)))
    assert len(learning.searches()) == 3


def test_personal_words_and_no_words_are_never_stored(learning: Learning) -> None:
    for words in ("my name is Nora, it is stuck", "call 555-0134", "?!"):
        assert not learning.keep_search(replace(GATE, words=words))
    assert learning.searches() == []


def test_accepted_phrases_stand_by_article_and_raise_the_version(learning: Learning) -> None:
    before = learning.version()
    learning.accept("jam", "  it ate\nmy ballot ", "ann", NOW)
    learning.accept("jam", "goes crunch", "ann", later(1))
    learning.accept("smoke", "smells odd", "ben", later(2))
    assert learning.accepted() == {
        "jam": ("it ate my ballot", "goes crunch"),
        "smoke": ("smells odd",),
    }
    assert learning.version() == before + 3


def test_a_double_click_decides_once(learning: Learning) -> None:
    for words in ("goes crunch", "Goes crunch"):
        learning.accept("jam", words, "ann", NOW)
    learning.take_back("jam", "never accepted", "ann", NOW)
    assert [act.act for act in learning.acts("jam")] == ["accepted"]


def test_taking_back_keeps_who_accepted_and_who_took_back(learning: Learning) -> None:
    learning.accept("jam", "goes crunch", "ann", NOW)
    version = learning.version()
    learning.take_back("jam", "goes crunch", "ben", later(3))
    assert learning.accepted() == {}
    assert learning.version() > version
    assert [(act.act, act.by, act.at) for act in learning.acts("jam")] == [
        ("taken-back", "ben", later(3)),
        ("accepted", "ann", NOW),
    ]
    learning.accept("jam", "goes crunch", "ben", later(4))
    assert learning.accepted() == {"jam": ("goes crunch",)}


def test_what_is_set_aside_changes_no_search(learning: Learning) -> None:
    version = learning.version()
    learning.set_aside("jam", "it is Tuesday", "ann", NOW)
    learning.set_aside("", "coffee is cold " * 20, "ann", NOW)
    assert learning.set_asides() == {
        "jam": {key("Tuesday it is")},
        "": {key("coffee is cold")},
    }
    assert learning.version() == version
    assert learning.accepted() == {}


@pytest.mark.parametrize(
    ("phrase", "told"),
    [
        ("?!", "at least one word"),
        ("call me at 555-0134", "a telephone number"),
        ("this is Nora from the school, it beeps", "a name"),
        ("crunch " * LONGEST_PHRASE, f"Shorten it to {LONGEST_PHRASE}"),
    ],
)
def test_what_cannot_be_a_phrase_is_refused_and_not_stored(
    learning: Learning, phrase: str, told: str
) -> None:
    with pytest.raises(InputError, match=told):
        learning.accept("jam", phrase, "ann", NOW)
    assert learning.acts("jam") == []


@pytest.mark.parametrize(
    "statement", ["UPDATE phrase_acts SET by = 'eve'", "DELETE FROM phrase_acts"]
)
def test_no_decision_is_ever_changed(learning: Learning, store: Store, statement: str) -> None:
    learning.accept("jam", "goes crunch", "ann", NOW)
    with pytest.raises(sqlite3.IntegrityError, match="kept for ever"):
        store.write(lambda database: database.execute(statement))
    assert learning.acts("jam")[0].by == "ann"
