"""What of an event may stand in the public copy, and why the rest may not.

Three things could give a voter or a place away: who (persons, their words), when (exact times
beside an order of voting), and how many (a count of one or two is a person). And some things
help whoever wants to do harm: numbers of seals in use, the handling of codes, the network,
where the rovers are. What is withheld is withheld with one of these reasons; nothing is left
out silently. Common practice; counsel decides what the law of the state asks.

That a member is withheld must not tell its value. So what could tell of codes, keys or the network
is withheld by the case and for one reason: the symptom, the words, and all articles and trees of
every case with a symptom of `VEILED` (ten electronic troubles, most of them harmless), with an
article or tree that deals with codes or the network, or about network equipment. And that a style
stopped is withheld whether it did or not.

No entry's id is disclosed, nor where another entry names it. The id of an imported line is a hash
of the line, without salt; that of an entry from a page is a hash of what was told and of a form's
id, which in older records was the public id of the case: who has all but a minute or a short word
could try until the hash fits. Entries of a copy are told apart by their number.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from kb.incidents.bodies import LINE_MEMBERS, TEXT_MEMBERS
from kb.incidents.events import Event
from kb.incidents.leaf import disclosed_members
from kb.incidents.offered import is_offered

SMALLEST_CELL = 10

REDACTED = "redacted by the office"
PERSON = "names or describes a person"
TIME = "an exact time; the table gives it to a quarter of an hour"
WORDS = "typed words that nobody has read for the public copy"
SEAL = "number of a seal"
NETWORK = "details of the network"
VEIL = "a case that may, or may not, tell of codes, keys or the network"
ROUTE = "where rovers and deliveries go"
SMALL = f"a count under {SMALLEST_CELL}, or one from which it could be told"
PROTECTIVE = "a counter that never goes back, from which the public one could be told"
REPEATS = "repeats an entry that it corrects"
GUESSED = "a hash of the whole entry, from which withheld members could be guessed"

_MEMBERS = {
    "actor": PERSON,
    "name": PERSON,
    "person": PERSON,
    "login": PERSON,
    "owner": PERSON,
    "call_back": PERSON,
    "caller_role": PERSON,
    "confirmed_by": PERSON,
    "decided_by": PERSON,
    "phone": PERSON,
    "seal": SEAL,
    "seals": SEAL,
    "rover": ROUTE,
    "route": ROUTE,
    "protective": PROTECTIVE,
    "protective_counter": PROTECTIVE,
    "replacement": REPEATS,
    "firmware": NETWORK,
}
# The rows of people, and what they state about themselves, are of no use to the public at all.
_PERSONAL_KINDS = frozenset({"person.recorded", "shift.recorded", "shift.stated"})
# A place's and a device's name are not a person's.
_NAMED_THINGS = frozenset({"place.recorded", "election.recorded"})
_COUNTS = frozenset(
    {
        "stored", "accepted", "returned", "count", "ballots_affected", "voters_affected",
        "checked_in", "counted", "provisional", "spoiled", "fled", "delivered", "left",
        "ballots", "sheets", "checkins", "public", "public_counter",
    }
)  # fmt: skip
PUBLIC_COUNTERS = ("public", "public_counter")
_STYLE = "style_stopped"
_ABOUT = frozenset({"article", "tree", "step", "answer", "hash", "walk", "words", "symptom"})
_HASHES = frozenset({"hash", "sha256"})
_WHOLE_HASH = re.compile(r"[0-9a-f]{64}")
_IDS = frozenset({"id", "body.event", "body.asked", "body.notice"})
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z")
# Classes of equipment about which an attacker would like to know.
SECRET_CLASSES = frozenset({"network", "transmission"})
# Two of them tell of codes and the network; the others are there so that no one is singled out.
VEILED = frozenset(
    {
        "clock-wrong", "code-refused", "frozen", "memory-message", "other", "restarted", "slow",
        "stuck-start", "will-not-connect", "wrong-identity",
    }
)  # fmt: skip


@dataclass(frozen=True)
class Policy:
    """What the county's library and its people have said about an election's texts.

    `secret`: article and tree slugs that deal with codes or the network.
    `redacted` and `cleared`: members by event id. `veiled`: the cases of which nothing is told
    that could tell of codes or the network. `close`: the events whose public counter lies so near
    to another that a few voters stand between them, by id.
    """

    secret: Collection[str]
    redacted: Mapping[str, Collection[str]]
    cleared: Mapping[str, Collection[str]]
    veiled: Collection[str] = frozenset()
    close: Collection[str] = frozenset()


def withheld(event: Event, policy: Policy) -> dict[str, str]:
    """The members of an event that the public copy does not disclose, each with its reason."""
    members = disclosed_members(event)
    small = _small(event)
    reasons = {name: _reason(event, name, members[name], policy, small) for name in members}
    return {name: reason for name, reason in reasons.items() if reason}


def touches_secrets(event: Event, secret: Collection[str]) -> bool:
    """Whether an event may tell of codes, keys or the network. `secret`: articles and trees.

    A correction tells what it puts in the place of another entry.
    """
    instead = event.body.get("replacement")
    told = instead if isinstance(instead, dict) else event.body
    return (
        not {str(told.get(name, "")) for name in ("article", "tree")}.isdisjoint(secret)
        or told.get("equipment") in SECRET_CLASSES
        or told.get("symptom") in VEILED
    )


def redacted(event: Event, policy: Policy) -> dict[str, str]:
    """The members that no copy discloses: what the office has redacted."""
    names = {f"body.{name}" for name in policy.redacted.get(event.id, ())}
    return dict.fromkeys(sorted(names & disclosed_members(event).keys()), REDACTED)


def _reason(  # noqa: PLR0911 - one rule after the other, the gravest first
    event: Event, name: str, value: object, policy: Policy, small: bool
) -> str:
    plain = name.removeprefix("body.")
    inside = name.startswith("body.")
    if inside and plain in policy.redacted.get(event.id, ()):
        return REDACTED
    if event.kind in _PERSONAL_KINDS and inside:
        return PERSON
    if plain in _MEMBERS and not (plain == "name" and event.kind in _NAMED_THINGS):
        return _MEMBERS[plain]
    if isinstance(value, str) and _INSTANT.fullmatch(value):
        return TIME
    if name in _IDS:
        return GUESSED
    if inside and plain in _ABOUT and _veiled(event, policy):
        return VEIL
    if _typed(event, plain, value) and plain not in policy.cleared.get(event.id, ()):
        return WORDS
    if plain in PUBLIC_COUNTERS and event.id in policy.close:
        return SMALL
    if small and plain in _COUNTS:
        return SMALL
    return SMALL if plain == _STYLE else ""


def _typed(event: Event, plain: str, value: object) -> bool:
    """Whether people typed it: whatever they type stays closed until it was read.

    A short line is open where it is one of the program's own words, a hash where it is one.
    """
    if plain in TEXT_MEMBERS:
        return event.kind not in _NAMED_THINGS
    if plain in _HASHES:
        return not _WHOLE_HASH.fullmatch(str(value))
    return plain in LINE_MEMBERS and not is_offered(plain, value)


def _veiled(event: Event, policy: Policy) -> bool:
    return event.incident in policy.veiled or touches_secrets(event, policy.secret)


def _small(event: Event) -> bool:
    """Whether a count of this event is small: then all of them go, lest it be worked out."""
    counts = [value for name, value in event.body.items() if name in _COUNTS]
    return any(isinstance(count, int) and 0 < count < SMALLEST_CELL for count in counts)
