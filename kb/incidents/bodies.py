"""What each kind of event says: one typed body a kind.

All members are optional unless the event means nothing without them: people tell what they
know, and the rest in a later event. What people type freely, and pictures, are named in
`TEXT_MEMBERS`, short lines in `LINE_MEMBERS`, since that is what may have to be withheld.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field, JsonValue, model_validator

from kb.incidents.actions import Element, State
from kb.incidents.values import (
    Body,
    Cause,
    Confidence,
    Count,
    Day,
    Desk,
    Effect,
    Flags,
    Identifier,
    Instant,
    Line,
    Outcome,
    Phase,
    Symptom,
    Text,
)

TEXT_MEMBERS = frozenset(
    {
        "words",
        "text",
        "reason",
        "who_else",
        "screen",
        "call_back",
        "caller_role",
        "name",
        "note",
        "caller_words",
        "incomplete",
        "explained",
        "issue",
        "picture",
    }
)
# One line that the pages mostly offer to choose, and that an entry can yet fill with any words.
# A redaction or a clearance that names no member means the texts alone, as it always did: what
# was entered before these were added means no more today than on its day.
LINE_MEMBERS = frozenset(
    {
        "answer",
        "compartment",
        "confirmed_by",
        "container",
        "decided_by",
        "file",
        "finding",
        "from",
        "line",
        "measure",
        "memory",
        "owner",
        "role",
        "seal",
        "state",
        "test_result",
        "to",
        "where",
    }
)
TYPED_MEMBERS = TEXT_MEMBERS | LINE_MEMBERS


def named_members(body: Mapping[str, object]) -> frozenset[str]:
    """The members that a redaction or a clearance names; all text where it names none."""
    named = body.get("members")
    return frozenset(map(str, named)) if isinstance(named, list) and named else TEXT_MEMBERS


class Call(Body):
    """call.offered, call.answered, call.ended.

    `passed_to`: the desk that a call on other matters went to. `due`: the caller was told that
    somebody calls back by then.
    """

    call: Identifier | None = None
    place: Identifier | None = None
    line: Line | None = None
    passed_to: Desk | None = None
    due: Instant | None = None


class Handed(Body):
    """call.handed: another answerer goes on with the case."""

    person: Identifier
    reason: Text | None = None


class Reported(Body):
    """incident.reported: where and about what; `happened` is when the office heard of it.

    `form`: the number of the paper form, for what was written down while the system was away.
    `county_wide`: no case of a place, but the one that many places' cases belong to;
    `report_by`: it is to be reported to the state by then.
    """

    place: Identifier | None = None
    precinct: Identifier | None = None
    phase: Phase | None = None
    equipment: Identifier | None = None
    asset: Identifier | None = None
    caller_role: Line | None = None
    call_back: Line | None = None
    started: Instant | None = None
    started_estimated: bool | None = None
    form: Identifier | None = None
    county_wide: bool | None = None
    report_by: Instant | None = None


class Described(Body):
    """incident.described: what is seen and what it does to voting; the last word counts.

    The yes/no members are facts that priority asks for: the trouble keeps the place from
    opening; no other unit of the class works there; stored ballots grow; one style, language,
    party or accessible voter cannot vote; another way of voting is in use.
    """

    symptom: Symptom | None = None
    effect: Effect | None = None
    flags: Flags | None = None
    ballots_inside: bool | None = None
    wait_minutes: Count | None = None
    words: Text | None = None
    screen: Text | None = None
    blocks_opening: bool | None = None
    last_of_class: bool | None = None
    stored_growing: bool | None = None
    style_stopped: bool | None = None
    contingency: bool | None = None
    ballots_affected: Count | None = None
    voters_affected: Count | None = None


class Picked(Body):
    """search.picked: the article that was opened, its version, and the words that found it."""

    words: Text | None = None
    article: Identifier
    hash: Line | None = None


class TreeAnswered(Body):
    """tree.answered: one answer, over one version of a tree, in one walk."""

    tree: Identifier
    hash: Line
    step: Identifier
    answer: Line
    walk: Identifier | None = None


class Rover(Body):
    """rover.sent, rover.arrived."""

    rover: Identifier
    reason: Text | None = None


class Seal(Body):
    """seal.removed, seal.applied."""

    seal: Line
    where: Line | None = None
    state: Line | None = None


class Compartment(Body):
    """compartment.opened, compartment.closed."""

    compartment: Line


class CounterRead(Body):
    """counter.read: what the device shows; `moment` says before or after the work."""

    asset: Identifier | None = None
    public: Count | None = None
    protective: Count | None = None
    moment: Literal["before", "after"] | None = None


class Witness(Body):
    """witness.named: a sworn worker who saw it, and how they confirmed that."""

    name: Line
    role: Line | None = None
    person: Identifier | None = None
    confirmed_by: Line | None = None
    party_rule_met: bool | None = None


class BallotsMoved(Body):
    """ballots.moved; a count that is missing means "not counted"."""

    source: Line | None = Field(None, alias="from")
    to: Line | None = None
    count: Count | None = None
    container: Line | None = None


class BallotsTallied(Body):
    """ballots.tallied: what became of stored ballots."""

    stored: Count | None = None
    accepted: Count | None = None
    returned: Count | None = None


class Swapped(Body):
    """device.swapped; `memory` says where the memory device went."""

    old: Identifier | None = None
    new: Identifier | None = None
    memory: Line | None = None


class Said(Body):
    """note.added."""

    text: Text
    who_else: Line | None = None


class Picture(Body):
    """picture.added: the SHA-256 (hex) of a JPEG kept beside the ledger, and what it shows."""

    picture: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    text: Text | None = None


class Decided(Body):
    """decision.made: `about` is an id of the table of who may decide; `who_else` was asked."""

    text: Text
    who_else: Line | None = None
    about: Identifier | None = None
    decided_by: Line | None = None


class Ended(Body):
    """voting.restored, incident.closed, incident.reopened; `reason`: why no time restored.

    `incomplete`: why the case was closed though its record of custody lacked something.
    """

    outcome: Outcome | None = None
    cause: Cause | None = None
    cause_confidence: Confidence | None = None
    reason: Text | None = None
    incomplete: Text | None = None


class Merged(Body):
    """incident.merged: `into` is the same case; `parent` a county-wide one that it belongs to."""

    into: Identifier | None = None
    parent: Identifier | None = None
    reason: Text | None = None

    @model_validator(mode="after")
    def _names_a_case(self) -> Merged:
        if self.into is None and self.parent is None:
            raise ValueError("names no case: give 'into' (same case) or 'parent' (county-wide)")
        return self


class Corrected(Body):
    """event.corrected: the body as it should have been; without a replacement it is struck out.

    `happened` corrects the time. `asked`: the correction.asked that a second person carries out.
    """

    event: Identifier
    replacement: dict[str, JsonValue] | None = None
    happened: Instant | None = None
    reason: Text | None = None
    asked: Identifier | None = None


class CorrectionAsked(Body):
    """correction.asked: a correction that takes a second person; it changes nothing by itself."""

    event: Identifier
    replacement: dict[str, JsonValue] | None = None
    happened: Instant | None = None
    reason: Text


class CorrectionRefused(Body):
    """correction.refused: the second person's no, and why."""

    asked: Identifier
    reason: Text


class Withheld(Body):
    """text.withheld: typed members of an event to be hidden; all texts where none is named.

    A short line (`LINE_MEMBERS`) is hidden only by its name.
    """

    event: Identifier
    members: tuple[Identifier, ...] = ()
    reason: Text

    @model_validator(mode="after")
    def _only_text(self) -> Withheld:
        if other := sorted(set(self.members) - TYPED_MEMBERS):
            raise ValueError(
                f"{', '.join(other)} cannot be withheld; only {', '.join(sorted(TYPED_MEMBERS))}"
            )
        return self


class Cleared(Body):
    """text.cleared: typed members of an event that a person has read and found fit to be public.

    All texts where none is named, as in `Withheld`.
    """

    event: Identifier
    members: tuple[Identifier, ...] = ()


class Hold(Body):
    """hold.placed, hold.lifted (shown as litigation hold)."""

    reason: Text | None = None


class Notice(Body):
    """notice.sent: told to all of the hotline and all rovers; `case` is the county-wide one."""

    text: Text
    article: Identifier | None = None
    case: Identifier | None = None


class ActionStated(Body):
    """action.stated: a corrective action, told whole each time; see `actions.Action`."""

    action: Identifier
    finding: Line | None = None
    issue: Text | None = None
    text: Text
    element: Element
    owner: Line
    due: Day
    state: State
    measure: Line | None = None
    base: float | None = None
    wanted: Literal["down", "up"] | None = None
    note: Text | None = None


class NoticeRead(Body):
    """notice.read: this person has read it."""

    notice: Identifier


class Mark(Body):
    """place.ready, place.opened, place.closed, materials.left, materials.received."""

    place: Identifier
    time: Instant | None = None
    seals: tuple[Line, ...] = ()


class Reconciled(Body):
    """place.reconciled: the count of a place, in ballots; None means "not known".

    `explained`: why what remains does not come to zero.
    """

    place: Identifier
    checked_in: Count | None = None
    counted: Count | None = None
    stored: Count | None = None
    provisional: Count | None = None
    spoiled: Count | None = None
    fled: Count | None = None
    delivered: Count | None = None
    left: Count | None = None
    explained: Text | None = None


class ShiftStated(Body):
    """shift.stated: "these are my entries", from `starts` to `until`.

    `entries` is how many, `digest` the SHA-256 over their ids in order (hex).
    """

    starts: Instant
    until: Instant
    entries: Count
    digest: Line
    text: Text | None = None


class FormsIssued(Body):
    """forms.issued: pre-numbered paper forms from `first` to `last`, and who has them."""

    first: Count
    last: Count
    to: Line | None = None

    @model_validator(mode="after")
    def _in_order(self) -> FormsIssued:
        if self.last < self.first:
            raise ValueError(f"last: {self.last} is before the first, {self.first}")
        return self


class FormAccounted(Body):
    """form.accounted: what became of one paper form; `incident` is the case it was typed into."""

    form: Count
    state: Literal["used", "spoiled", "blank", "missing"]
    incident: Identifier | None = None
    reason: Text | None = None


class LogReceived(Body):
    """log.received: a device's own event log was taken in; `sha256` is of the file, in hex."""

    asset: Identifier
    file: Line
    sha256: Line
    events: Count
    first: Instant | None = None
    last: Instant | None = None
