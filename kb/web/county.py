"""What the pages of one running county share: its folder, its library, its index."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from flask import current_app

from kb.base.settings import Settings
from kb.incidents.places import Election
from kb.incidents.store import Folder, Record
from kb.library.article import Library
from kb.people.store import People
from kb.search.hits import Answer
from kb.search.index import Index
from kb.triage.tree import Tree
from kb.web.documents import documents

EXTENSION = "latchbook"


@dataclass(frozen=True)
class County:
    """One opened data folder with its library ready to be searched and walked."""

    folder: Folder
    library: Library
    trees: Mapping[str, Tree]
    index: Index
    # The county's answers to the worksheet of local rules; unanswered means the strictest choice.
    answers: Mapping[str, bool]

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

    def search(self, words: str, place: str | None = None, limit: int = 8) -> Answer:
        """Articles for a caller's words; what stands at the place weighs, and hides nothing."""
        here = {device.equipment for device in self.record.devices(place)} if place else set()
        return self.index.search(words, limit=limit, place_equipment=frozenset(here))


def open_county(folder: Folder, library: Library, trees: Mapping[str, Tree]) -> County:
    """Make the index over a loaded library."""
    answers: dict[str, bool] = {}
    index = Index(documents(library, trees, answers), library.words)
    return County(folder, library, trees, index, answers)


def county() -> County:
    """The county of the application that answers this request."""
    return cast("County", current_app.extensions[EXTENSION])
