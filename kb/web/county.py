"""What the pages of one running county share: its folder, its library, its index."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from flask import current_app

from kb.authoring import overlay
from kb.base.settings import Settings
from kb.incidents.places import Election
from kb.incidents.store import Folder, Record
from kb.library.article import Library
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
    version: tuple[int, ...]


class County:
    """One opened data folder with its library ready to be searched and walked."""

    def __init__(self, folder: Folder, shipped: Library, vectors: KeptVectors | None) -> None:
        self.folder = folder
        self.shipped = shipped
        self._renewing = threading.Lock()
        self._shelf = self._read(self._version())
        self.index = Index(self._documents(self._shelf), shipped.words, vectors)

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
            shelf = self._read(version)
            found = self._documents(shelf)
            gone = {one.slug for one in self._documents(self._shelf)} - {one.slug for one in found}
            self.index.update(found, gone)
            self._shelf = shelf

    def _version(self) -> tuple[int, ...]:
        return (self.folder.editions.version(),)

    def _read(self, version: tuple[int, ...]) -> Shelf:
        library, _ = overlay.apply(self.shipped, self.folder.editions.published())
        answers: Mapping[str, bool] = {}
        return Shelf(library, load_trees(library, answers=answers), answers, version)

    def _documents(self, shelf: Shelf) -> list[Document]:
        return documents(shelf.library, shelf.trees, shelf.answers)


def open_county(folder: Folder, shipped: Library, vectors: KeptVectors | None = None) -> County:
    """Make a county of an opened folder and the shipped library."""
    return County(folder, shipped, vectors or kept_for(shipped.folder, folder.path))


def county() -> County:
    """The county of the application that answers this request."""
    return cast("County", current_app.extensions[EXTENSION])
