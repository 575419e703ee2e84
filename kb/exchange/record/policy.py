"""From what was entered to what may be shown: redactions, clearances, secret subjects."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from kb.exchange.record.public import SECRET_CLASSES, Policy, touches_secrets
from kb.incidents.bodies import named_members
from kb.incidents.events import Event
from kb.incidents.kinds import CORRECTED, WITHHELD
from kb.incidents.order import Entry, root, settle

CLEARED = "text.cleared"
_ASKED = "correction.asked"
SECRET_WORDS = ("passcode", "password", "code-refused", "keys-missing", "key-missing")


def policy(
    events: Iterable[Event], classes: Mapping[str, str], close: Collection[str] = frozenset()
) -> Policy:
    """The policy of one log. `classes`: the equipment class of each article and tree, by slug.

    `close`: the events whose public counter is too near to another, of this log or the other.
    """
    groups: dict[str | None, list[Event]] = {}
    secret = _secret(classes)
    for event in events:
        groups.setdefault(event.incident, []).append(event)
    redacted: dict[str, frozenset[str]] = {}
    cleared: dict[str, frozenset[str]] = {}
    for group in groups.values():
        entries = {entry.id: entry for entry in settle(group)}
        redacted |= _redacted(entries)
        cleared |= _cleared(entries.values())
    return Policy(secret, redacted, cleared, _veiled(groups, secret), close)


def _veiled(groups: Mapping[str | None, list[Event]], secret: frozenset[str]) -> frozenset[str]:
    """The cases of which any entry may tell of codes, keys or the network."""
    return frozenset(
        case
        for case, events in groups.items()
        if case is not None and any(touches_secrets(event, secret) for event in events)
    )


def _redacted(entries: Mapping[str, Entry]) -> dict[str, frozenset[str]]:
    """What was redacted, by event; also in corrections, which repeat the entry they mean."""
    found: dict[str, frozenset[str]] = {}
    for entry in entries.values():
        if entry.kind == WITHHELD and not entry.struck:
            target = root(entries, str(entry.body["event"]))
            if target is not None:
                found[target] = found.get(target, frozenset()) | named_members(entry.body)
    for name, entry in entries.items():
        meant = str(entry.body.get("event")) if entry.kind == _ASKED else name
        if entry.kind in {CORRECTED, _ASKED} and root(entries, meant) in found:
            found[name] = frozenset({"replacement", "reason"})
    return found


def _cleared(entries: Iterable[Entry]) -> dict[str, frozenset[str]]:
    found: dict[str, frozenset[str]] = {}
    for entry in entries:
        if entry.kind == CLEARED and not entry.struck:
            target = str(entry.body["event"])
            found[target] = found.get(target, frozenset()) | named_members(entry.body)
    return found


def _secret(classes: Mapping[str, str]) -> frozenset[str]:
    return frozenset(
        slug
        for slug, equipment in classes.items()
        if equipment in SECRET_CLASSES or any(word in slug for word in SECRET_WORDS)
    )
