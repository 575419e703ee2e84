"""Searches that led nowhere, and what authors decided about callers' words, in the database.

Accepted phrases stand outside the freeze of the library and need no second reader: they add a
way to an article and change none. So who accepted which, and when, is kept for ever.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any, Literal

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from kb.authoring.fitness import LooksPersonal, unfit
from kb.authoring.learning import LONGEST_PHRASE, Key, Search, key
from kb.base.clock import format_instant, parse_instant
from kb.base.database import Store
from kb.base.errors import InputError

migrations = Migrations("learning")

ActName = Literal["accepted", "set-aside", "taken-back"]

_TABLES = (
    # The same words in one case on one day are one search: a page that is loaded again.
    """CREATE TABLE searches (
        number INTEGER PRIMARY KEY, words TEXT NOT NULL, fits INTEGER NOT NULL,
        first TEXT NOT NULL, role TEXT NOT NULL, at TEXT NOT NULL, "case" TEXT NOT NULL,
        why TEXT NOT NULL CHECK (why IN ('nothing', 'again', 'new')), day TEXT NOT NULL,
        UNIQUE (words, role, "case", day)
    ) STRICT""",
    """CREATE TABLE phrase_acts (
        number INTEGER PRIMARY KEY, slug TEXT NOT NULL, phrase TEXT NOT NULL,
        act TEXT NOT NULL CHECK (act IN ('accepted', 'set-aside', 'taken-back')),
        "by" TEXT NOT NULL, at TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX phrase_acts_of_slug ON phrase_acts (slug)",
)


@dataclass(frozen=True)
class Act:
    """What somebody decided about words: for an article, or, with no slug, for none."""

    slug: str
    phrase: str
    act: ActName
    by: str
    at: datetime


@migrations()
def learning(database: Database) -> None:
    """Create the tables; no decision is ever changed or deleted."""
    for statement in _TABLES:
        database.execute(statement)
    for change in ("UPDATE", "DELETE"):
        database.execute(
            f"CREATE TRIGGER phrase_acts_no_{change.lower()} BEFORE {change} ON phrase_acts "
            "BEGIN SELECT RAISE(ABORT, 'who accepted which phrase is kept for ever'); END"
        )


class Learning:
    """What the county learns from its callers. Safe for many threads.

    `looks_personal` says what in a text looks personal; such words are never stored here.
    """

    def __init__(self, store: Store, looks_personal: LooksPersonal) -> None:
        self._store = store
        self._looks_personal = looks_personal

    def version(self) -> int:
        """A number that rises whenever search is given other phrases."""
        query = "SELECT count(*) FROM phrase_acts WHERE act != 'set-aside'"
        return int(self._store.read().execute(query).fetchone()[0])

    def keep_search(self, search: Search) -> bool:
        """Keep a search that led to no article; False where its words may not be kept."""
        if not key(search.words) or unfit(search.words, self._looks_personal):
            return False
        at = format_instant(search.at)
        row = asdict(search) | {"fits": int(search.fits), "at": at, "day": at[:10]}
        self._store.write(lambda database: database.table("searches").insert(row, ignore=True))
        return True

    def forget(self, text: str) -> None:
        """Drop kept searches in these words: they were redacted in the record."""
        query = "DELETE FROM searches WHERE words = ?"
        self._store.write(lambda database: database.execute(query, [text]))

    def searches(self) -> list[Search]:
        """All searches kept, the oldest first."""
        rows = self._store.read().query("SELECT * FROM searches ORDER BY number")
        return [_search(row) for row in rows]

    def accepted(self) -> Mapping[str, tuple[str, ...]]:
        """The accepted phrases of each article, in the order in which they were accepted."""
        found: defaultdict[str, tuple[str, ...]] = defaultdict(tuple)
        for act in self.standing("accepted"):
            found[act.slug] = (*found[act.slug], act.phrase)
        return dict(found)

    def set_asides(self) -> Mapping[str, frozenset[Key]]:
        """What is not offered again, by article; under "" what is for no article."""
        found: defaultdict[str, frozenset[Key]] = defaultdict(frozenset)
        for act in self.standing("set-aside"):
            found[act.slug] |= {key(act.phrase)}
        return dict(found)

    def standing(self, name: ActName) -> list[Act]:
        """The decisions of one kind that hold now, the oldest first."""
        return [act for act in _latest(_acts(self._store.read())).values() if act.act == name]

    def acts(self, slug: str) -> list[Act]:
        """All that was ever decided for an article, the newest first."""
        return [act for act in reversed(_acts(self._store.read())) if act.slug == slug]

    def accept(self, slug: str, phrase: str, by: str, at: datetime) -> None:
        """Make words a phrase of an article. Raises InputError for words that cannot be one."""
        self._decide(Act(slug, self._phrase(phrase), "accepted", by, at))

    def set_aside(self, slug: str, phrase: str, by: str, at: datetime) -> None:
        """Never offer these words for this article (or, with no slug, for any) again."""
        self._decide(Act(slug, self._phrase(phrase, longest=None), "set-aside", by, at))

    def take_back(self, slug: str, phrase: str, by: str, at: datetime) -> None:
        """Take a decision back: the words are as they were before it."""
        self._decide(Act(slug, " ".join(phrase.split()), "taken-back", by, at))

    def _phrase(self, text: str, longest: int | None = LONGEST_PHRASE) -> str:
        phrase = " ".join(text.split())
        if not key(phrase):
            raise InputError("A phrase needs at least one word. Type what the caller said.")
        if looks := unfit(phrase, self._looks_personal):
            raise InputError(
                f"This looks like {' and '.join(looks)}, so it was not stored. Leave that out."
            )
        if longest is not None and len(phrase) > longest:
            raise InputError(
                f"This has {len(phrase)} characters. Shorten it to {longest}: one breath of a call."
            )
        return phrase

    def _decide(self, act: Act) -> None:
        """Add a decision; one that changes nothing, as by a double click, leaves no trace."""

        def job(database: Database) -> None:
            before = _latest(_acts(database)).get((act.slug, key(act.phrase)))
            stands = before.act if before else "taken-back"
            if stands != act.act:
                phrase = before.phrase if before and act.act == "taken-back" else act.phrase
                row = asdict(replace(act, phrase=phrase)) | {"at": format_instant(act.at)}
                database.table("phrase_acts").insert(row)

        self._store.write(job)


def _latest(acts: list[Act]) -> dict[tuple[str, Key], Act]:
    """The last decision on each saying, in the order in which these were made."""
    found: dict[tuple[str, Key], Act] = {}
    for act in acts:
        name = (act.slug, key(act.phrase))
        found.pop(name, None)
        found[name] = act
    return found


def _acts(database: Database) -> list[Act]:
    query = 'SELECT slug, phrase, act, "by", at FROM phrase_acts ORDER BY number'
    return [Act(**row | {"at": parse_instant(row["at"])}) for row in database.query(query)]


def _search(row: dict[str, Any]) -> Search:
    values = {name: value for name, value in row.items() if name not in {"number", "day"}}
    return Search(**values | {"fits": bool(row["fits"]), "at": parse_instant(row["at"])})
