"""How a county's worksheet of local rules comes into force, changes, and is frozen.

    draft ── sign ──▶ signed ── freeze ──▶ frozen
      ▲                 │                     │
      └── fill again ───┘                     └── ask ──▶ notice ── approve, by another person

Only a signed sheet is in force. After the freeze a change is a notice: one person asks, a second
one approves. Everything that is done is an entry, kept for ever, and how things stand follows
from the entries. Each rule below takes how things stand and returns the next entry, or raises:
Refused where the person may not do it, InputError where it is not the time for it, Stale where
somebody else was quicker.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from kb.authoring.edits import Stale
from kb.authoring.sheet import Sheet, Signature, parse_sheet, sheet_yaml
from kb.base.errors import InputError, NotFound, Refused
from kb.base.ids import fingerprint

# What can be done, and the word shown for it.
ACTS = {
    "saved": "Draft saved",
    "signed": "Signed",
    "frozen": "Frozen",
    "asked": "Notice asked for",
    "approved": "Notice approved",
    "declined": "Notice declined",
}
IN_FORCE = ("signed", "approved")


@dataclass(frozen=True)
class Entry:
    """One thing that was done. `number` is 0 until it is stored.

    `text` is the sheet's file; of a freeze it is the list of the library's texts, and `library`
    its hash. `notice` is the number of the entry that asked for what is decided here.
    """

    election: str
    act: str
    by: str
    at: datetime
    text: str = ""
    reason: str = ""
    notice: int = 0
    library: str = ""
    number: int = 0

    @property
    def sheet(self) -> Sheet:
        """The sheet of this entry."""
        sheet, problems = parse_sheet(self.text, f"entry {self.number}")
        if sheet is None:
            raise InputError("\n".join(str(problem) for problem in problems))
        return sheet

    @property
    def hash(self) -> str:
        """The SHA-256 (hex) of the text."""
        return fingerprint(self.text)


@dataclass(frozen=True)
class Notice:
    """A change after the freeze: what was asked for, and what was decided of it, if anything."""

    asked: Entry
    decided: Entry | None = None


@dataclass(frozen=True)
class Worksheet:
    """How the worksheet of one election stands."""

    election: str
    entries: tuple[Entry, ...] = ()
    draft: Entry | None = None
    in_force: Entry | None = None
    frozen: Entry | None = None
    notices: tuple[Notice, ...] = ()

    @property
    def state(self) -> str:
        """Where it is on its way: "empty", "draft", "signed" or "frozen"."""
        if self.frozen:
            return "frozen"
        if self.in_force:
            return "signed"
        return "draft" if self.draft else "empty"

    @property
    def sheet(self) -> Sheet:
        """The sheet in force; an empty one, the strictest, where none is."""
        return self.in_force.sheet if self.in_force else Sheet(self.election)

    @property
    def working(self) -> Sheet:
        """The sheet to go on filling in: the draft, or what is in force."""
        return self.draft.sheet if self.draft else self.sheet

    @property
    def last(self) -> int:
        """The number of the last entry, 0 where there is none."""
        return self.entries[-1].number if self.entries else 0

    @property
    def waiting(self) -> Entry | None:
        """The notice that waits for a second person."""
        return next((one.asked for one in self.notices if one.decided is None), None)

    def notice(self, number: int) -> Notice:
        """One notice by the number of its entry. Raises NotFound."""
        for one in self.notices:
            if one.asked.number == number:
                return one
        raise NotFound("There is no such notice. The worksheet lists those there are.")


def fold(election: str, entries: Iterable[Entry]) -> Worksheet:
    """How things stand after the entries of one election, in their order."""
    found = Worksheet(election)
    for entry in entries:
        found = _after(replace(found, entries=(*found.entries, entry)), entry)
    return found


def _after(before: Worksheet, entry: Entry) -> Worksheet:
    if entry.act == "saved":
        return replace(before, draft=entry)
    if entry.act == "signed":
        return replace(before, draft=None, in_force=entry)
    if entry.act == "frozen":
        return replace(before, draft=None, frozen=entry)
    if entry.act == "asked":
        return replace(before, draft=None, notices=(*before.notices, Notice(entry)))
    notices = tuple(
        replace(one, decided=entry) if one.asked.number == entry.notice else one
        for one in before.notices
    )
    in_force = entry if entry.act == "approved" else before.in_force
    return replace(before, notices=notices, in_force=in_force)


# What may be done next, as things stand.
Rule = Callable[[Worksheet], Entry]


@dataclass(frozen=True)
class Act:
    """Who does something, when, and the last entry that they had seen (None: does not matter)."""

    by: str
    at: datetime
    seen: int | None = None


def save(before: Worksheet, act: Act, sheet: Sheet) -> Entry:
    """Keep a draft; it is not in force."""
    _seen(before, act)
    _no_notice_waits(before)
    return Entry(before.election, "saved", act.by, act.at, sheet_yaml(sheet))


def sign(before: Worksheet, act: Act, signature: Signature) -> Entry:
    """Put the draft into force with the signature that counsel gave."""
    if before.frozen:
        raise InputError(
            "The worksheet is frozen; a change is a notice that a second one approves."
        )
    _seen(before, act)
    if before.draft is None:
        raise InputError("Nothing has changed since it was signed, so there is nothing to sign.")
    sheet = replace(before.draft.sheet, signed=signature)
    return Entry(before.election, "signed", act.by, act.at, sheet_yaml(sheet))


def freeze(before: Worksheet, act: Act, manifest: str) -> Entry:
    """Bind the sheet in force, and the library's texts as they are, to the election."""
    _seen(before, act)
    if before.frozen:
        raise InputError("The worksheet is frozen already.")
    if before.in_force is None:
        raise InputError("Only a signed worksheet can be frozen. Have it signed first.")
    if before.draft is not None:
        raise InputError("There is a draft that is not signed. Have it signed first, or undo it.")
    return Entry(
        before.election,
        "frozen",
        act.by,
        act.at,
        manifest,
        reason=before.in_force.hash,
        library=fingerprint(manifest),
    )


def ask(before: Worksheet, act: Act, reason: str) -> Entry:
    """Ask for a change after the freeze: what the draft says, and why."""
    if not before.frozen:
        raise InputError("The worksheet is not frozen yet: have the draft signed instead.")
    _seen(before, act)
    if before.draft is None:
        raise InputError("Nothing has changed, so there is nothing to ask for.")
    if not reason:
        raise InputError("Say why it changes on the day; the record keeps it.")
    # Nobody signed this text; what makes it hold is the notice.
    sheet = replace(before.draft.sheet, signed=None)
    return Entry(before.election, "asked", act.by, act.at, sheet_yaml(sheet), reason)


def decide(before: Worksheet, act: Act, number: int, *, approve: bool, reason: str) -> Entry:
    """The second person lets a notice into force, or declines it."""
    notice = before.notice(number)
    if notice.decided:
        raise Stale("This notice has been decided already.")
    if approve and notice.asked.by == act.by:
        raise Refused("You asked for this change, so another person must approve it.")
    if not approve and not reason:
        raise InputError("Say why it is declined; who asked sees it.")
    said = "approved" if approve else "declined"
    text = notice.asked.text if approve else ""
    return Entry(before.election, said, act.by, act.at, text, reason, number)


def _seen(before: Worksheet, act: Act) -> None:
    if act.seen is not None and act.seen != before.last:
        last = before.entries[-1] if before.entries else None
        who = f" {last.by}" if last else ""
        raise Stale(
            f"The worksheet has changed since you opened it here (last by{who}). "
            "Nothing was stored. Look at it as it stands now, then do this again."
        )


def _no_notice_waits(before: Worksheet) -> None:
    if before.waiting:
        raise InputError("A notice waits for a second person. It must be decided first.")


def by_rule(
    before: Mapping[str, bool], after: Mapping[str, bool], rules: Iterable[str]
) -> list[tuple[str, bool | None, bool | None]]:
    """The answers that differ, as (rule, before, after); None is not answered."""
    known = [*rules]
    every = [*known, *sorted((before.keys() | after.keys()) - set(known))]
    pairs = ((rule, before.get(rule), after.get(rule)) for rule in every)
    return [(rule, old, new) for rule, old, new in pairs if old is not new]
