"""What the pages of one running county share: its folder, its library, its index."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import cast

from flask import current_app

from kb.authoring import overlay
from kb.base.clock import now as present
from kb.base.settings import Settings
from kb.incidents.places import Election
from kb.incidents.store import Folder, Record
from kb.library.article import Library
from kb.library.ownwords import OwnWords
from kb.people.store import People
from kb.search.documents import Document
from kb.search.hits import Answer
from kb.search.index import Index
from kb.search.store import KeptVectors, kept_for
from kb.triage.documents import documents
from kb.triage.tree import Tree
from kb.triage.trees import load_trees

EXTENSION = "latchbook"


@dataclass(frozen=True)
class Shelf:
    """One state of the library in force: the shipped texts, the county's edits, its answers.

    It never changes. A change makes a new one, so that a page that is under way is of one piece.
    """

    library: Library
    trees: Mapping[str, Tree]
    # Unanswered means the strictest choice.
    answers: Mapping[str, bool]
    own_words: OwnWords
    # Callers' words that authors have accepted, by article.
    accepted: Mapping[str, Sequence[str]]
    version: tuple[object, ...]


class County:
    """One opened data folder with its library ready to be searched and walked."""

    def __init__(self, folder: Folder, shipped: Library, vectors: KeptVectors | None) -> None:
        self.folder = folder
        self.shipped = shipped
        self._vectors = vectors
        self._renewing = threading.Lock()
        self._shelf = self._read(self._version())
        self.index = self._index(self._shelf)

    @property
    def library(self) -> Library:
        """The library in force."""
        return self._shelf.library

    @property
    def trees(self) -> Mapping[str, Tree]:
        """The trees that may be walked."""
        return self._shelf.trees

    @property
    def answers(self) -> Mapping[str, bool]:
        """The county's answers to the worksheet of local rules."""
        return self._shelf.answers

    @property
    def own_words(self) -> OwnWords:
        """What the county calls a few things; put into texts where they are shown."""
        return self._shelf.own_words

    @property
    def allows_pictures(self) -> bool:
        """Whether the worksheet allows pictures of equipment; unanswered means no."""
        return bool(self.answers.get("photos-by-workers"))

    @property
    def library_version(self) -> tuple[object, ...]:
        """What the library in force follows from: it is another when a text or an answer is."""
        return self._shelf.version

    @property
    def settings(self) -> Settings:
        """The county's settings."""
        return self.folder.settings

    @property
    def people(self) -> People:
        """Accounts and sessions."""
        return self.folder.people

    @property
    def record(self) -> Record:
        """The ledger and what follows from it."""
        return self.folder.record

    def election(self, now: datetime) -> Election | None:
        """The election whose day it is, or the next one, or the last one."""
        return self.record.current_election(now)

    def search(
        self,
        words: str,
        place: str | None = None,
        limit: int = 8,
        *,
        equipment: str | None = None,
        phase: str | None = None,
    ) -> Answer:
        """Articles for a caller's words; what stands at the place weighs, and hides nothing."""
        here = {device.equipment for device in self.record.devices(place)} if place else set()
        return self.index.search(
            words,
            limit=limit,
            equipment=equipment,
            phase=phase,
            place_equipment=frozenset(here),
        )

    def renew(self) -> None:
        """Take up what was published, signed or accepted since; costs nothing if nothing was."""
        version = self._version()
        if version == self._shelf.version:
            return
        with self._renewing:
            if version[1:] == self._shelf.version[1:]:
                # An accepted phrase works at once: the texts, which take a second, stay as read.
                accepted = self.folder.learning.accepted()
                self._shelf = replace(self._shelf, accepted=accepted, version=version)
                self.index.update(self._documents(self._shelf))
                return
            shelf = self._read(version)
            found = self._documents(shelf)
            gone = {one.slug for one in self._documents(self._shelf)} - {one.slug for one in found}
            if shelf.own_words == self._shelf.own_words:
                self.index.update(found, gone)
            else:
                self.index = self._index(shelf)
            self._shelf = shelf

    def _version(self) -> tuple[object, ...]:
        election = self.election(present())
        folder = self.folder
        versions = (folder.learning.version(), folder.editions.version())
        return (*versions, folder.worksheet.version(), election.id if election else "")

    def _read(self, version: tuple[object, ...]) -> Shelf:
        library, _ = overlay.apply(self.shipped, self.folder.editions.published())
        sheet = self.folder.worksheet.worksheet(str(version[-1])).sheet
        trees = load_trees(library, answers=sheet.answers)
        accepted = self.folder.learning.accepted()
        return Shelf(library, trees, sheet.answers, sheet.own_words, accepted, version)

    def _index(self, shelf: Shelf) -> Index:
        words = shelf.own_words.widen(self.shipped.words)
        return Index(self._documents(shelf), words, self._vectors)

    def _documents(self, shelf: Shelf) -> list[Document]:
        return documents(shelf.library, shelf.trees, shelf.answers, shelf.accepted)


def open_county(folder: Folder, shipped: Library, vectors: KeptVectors | None = None) -> County:
    """Make a county of an opened folder and the shipped library."""
    return County(folder, shipped, vectors or kept_for(shipped.folder, folder.path))


def county() -> County:
    """The county of the application that answers this request."""
    return cast("County", current_app.extensions[EXTENSION])
