"""An edit of one article or tree, and the rules by which it goes from a draft into force.

    draft ── hand in ──▶ handed in ── approve, by another person ──▶ published
      ▲                      │
      └── take back, send back ┘        a draft may also be set aside; nothing is thrown away

Every rule takes the edit as it is stored and returns what it becomes, or raises: Refused where
the person may not do it, InputError where the edit is not in a state for it, Stale where it
has changed since the person looked at it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import PurePosixPath

from kb.authoring.merging import is_unmerged
from kb.base.errors import InputError, Refused
from kb.base.ids import fingerprint

# Each state and the words shown for it.
STATES = {
    "draft": "draft",
    "handed-in": "waits for a second reader",
    "published": "published",
    "set-aside": "set aside",
}
OPEN = ("draft", "handed-in")


class Stale(InputError):
    """What is stored has moved on since the page was loaded; nothing was overwritten."""

    http_status = 409


@dataclass(frozen=True)
class Edit:
    """One edit. `base` is the hash of the text it began from, "" for a new article.

    `where` is the file's path within the library. `shipped` is the hash of the shipped text that
    the author has taken account of, "" where none is shipped. `revision` counts what was saved.
    """

    id: str
    slug: str
    where: str
    base: str
    shipped: str
    text: str
    author: str
    begun: datetime
    changed: datetime
    state: str = "draft"
    revision: int = 1
    note: str = ""
    reader: str = ""
    decided: datetime | None = None
    reason: str = ""

    @property
    def hash(self) -> str:
        """The hash of the text as it stands."""
        return fingerprint(self.text)

    @property
    def is_tree(self) -> bool:
        """Whether this is a tree, not an article."""
        return is_tree(self.where)

    @property
    def changes_nothing(self) -> bool:
        """Whether the text is still the one it began from."""
        return self.hash == self.base

    def outdated(self, current: str) -> bool:
        """Whether another text than the one it began from is in force by now."""
        return self.state in OPEN and self.base != current


@dataclass(frozen=True)
class Decision:
    """What a second reader says of the revision of an edit that they have read."""

    reader: str
    revision: int
    reason: str
    at: datetime


@dataclass(frozen=True)
class Version:
    """A text that was put into force: the county's own record of it, kept for ever."""

    slug: str
    number: int
    where: str
    text: str
    base: str
    shipped: str
    author: str
    reader: str
    published: datetime
    note: str
    reason: str
    edit: str

    @property
    def hash(self) -> str:
        """The hash of the text."""
        return fingerprint(self.text)

    @property
    def as_shipped(self) -> bool:
        """Whether the county took the shipped text, and so follows what is shipped from then on."""
        return self.hash == self.shipped


def is_tree(where: str) -> bool:
    """Whether a file of the library is a tree: those stand in a folder of their own."""
    return PurePosixPath(where).parent.name == "trees"


def plain(text: str) -> str:
    """The text as files have it: a browser sends line ends of its own, and may drop the last."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return lines if not lines or lines.endswith("\n") else f"{lines}\n"


def revise(edit: Edit, who: str, revision: int, changed: Edit) -> Edit:
    """Save what the author typed, held in `changed` (text, note, where, time)."""
    _own(edit, who)
    if (changed.text, changed.note) == (edit.text, edit.note):
        return edit
    _state(edit, "draft", "Take it back first, or begin another edit.")
    if revision != edit.revision:
        raise Stale("This draft was saved elsewhere since you opened it here.")
    return replace(changed, revision=edit.revision + 1)


def hand_in(edit: Edit, who: str, revision: int, now: datetime) -> Edit:
    """Give a draft to a second reader."""
    _own(edit, who)
    _state(edit, "draft", "Look it up in the work list.")
    _seen(edit, revision)
    if not edit.note:
        raise InputError(
            "Say in a few words what you changed and why: the second reader and the history "
            "show it."
        )
    if is_unmerged(edit.text):
        raise InputError(
            "Lines of the merge are still marked; settle them, and take the marks out."
        )
    return replace(edit, state="handed-in", changed=now, reader="", decided=None, reason="")


def take_back(edit: Edit, who: str, now: datetime) -> Edit:
    """The author goes on writing; a second reader's page is out of date then."""
    _own(edit, who)
    _state(edit, "handed-in", "It is no longer waiting.")
    return replace(edit, state="draft", changed=now, revision=edit.revision + 1)


def set_aside(edit: Edit, who: str, now: datetime) -> Edit:
    """The author gives up a draft; its text stays to be read."""
    _own(edit, who)
    _state(edit, "draft", "Only a draft can be set aside.")
    return replace(edit, state="set-aside", changed=now)


def send_back(edit: Edit, decision: Decision) -> Edit:
    """The second reader asks for changes."""
    _second(edit, decision)
    if not decision.reason:
        raise InputError("Say what should be changed; the author sees it above the draft.")
    return _decided(edit, decision, "draft")


def approve(edit: Edit, decision: Decision, current: str) -> Edit:
    """The second reader lets it into force; `current` is the hash of the text in force now."""
    _second(edit, decision)
    if edit.outdated(current):
        raise Stale(
            "Another text has come into force since this edit was begun, so it would be lost. "
            "Send this back: the author's page shows both and a merge of them."
        )
    return _decided(edit, decision, "published")


def _decided(edit: Edit, decision: Decision, state: str) -> Edit:
    return replace(
        edit, state=state, reader=decision.reader, decided=decision.at, reason=decision.reason
    )


def _own(edit: Edit, who: str) -> None:
    if edit.author != who:
        raise Refused(
            "This edit belongs to another author. Begin your own; both are kept, and whoever is "
            "later sees what the other has written."
        )


def _second(edit: Edit, decision: Decision) -> None:
    if edit.author == decision.reader:
        raise Refused("Nobody approves or sends back an edit of their own; ask a second reader.")
    _state(edit, "handed-in", "Only an edit that was handed in is decided on.")
    _seen(edit, decision.revision)


def _seen(edit: Edit, revision: int) -> None:
    if edit.revision != revision:
        raise Stale("The text has changed since you opened it. Load the page again and read it.")


def _state(edit: Edit, wanted: str, hint: str) -> None:
    if edit.state != wanted:
        raise InputError(f"This edit is {STATES[edit.state]}. {hint}")
