"""Entries as they count now, together with what other entries of their log say about them.

Whoever shows what was told shows it this way: struck entries are marked, corrected ones say what
they say now, and what was redacted is hidden, also where a correction that waits repeats it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from kb.incidents.bodies import named_members
from kb.incidents.corrections import ASKED
from kb.incidents.events import Event
from kb.incidents.kinds import CORRECTED, WITHHELD
from kb.incidents.order import REDACTED, Entry, root, settle

# Entries that change what other entries say or show.
AMENDING = frozenset({CORRECTED, ASKED, WITHHELD})


def standing(told: Iterable[Event], log: Iterable[Event]) -> list[Entry]:
    """What was told as it counts now, in the same order.

    `log`: where the corrections and withholdings stand, and what they mean; its other entries
    play no part. Whether an entry came in late is not asked here: that takes the whole case.
    """
    asked, known = list(told), list(log)
    amending = [event for event in known if event.kind in AMENDING]
    meant = {str(event.body["event"]) for event in amending}
    targets = [event for event in known if event.id in meant and event.kind not in AMENDING]
    entries = {entry.id: entry for entry in settle([*asked, *amending, *targets])}
    hidden = _hidden(entries)
    return [_as_hidden(entries[event.id], entries, hidden) for event in asked]


def _hidden(entries: Mapping[str, Entry]) -> dict[str, frozenset[str]]:
    """Which members are hidden of each entry, by its id."""
    hidden: dict[str, frozenset[str]] = {}
    for entry in entries.values():
        if entry.kind != WITHHELD or entry.struck:
            continue
        if (target := root(entries, str(entry.body["event"]))) is not None:
            hidden[target] = hidden.get(target, frozenset()) | named_members(entry.body)
    return hidden


def _as_hidden(
    entry: Entry, entries: Mapping[str, Entry], hidden: Mapping[str, frozenset[str]]
) -> Entry:
    """A correction that was asked for repeats its target: it hides what the target hides."""
    if entry.kind != ASKED:
        return entry
    members = hidden.get(root(entries, str(entry.body["event"])) or "", frozenset())
    body = _without(entry.body, members)
    told = entry.body.get("replacement")
    if isinstance(told, dict):
        body["replacement"] = _without(told, members)
    return replace(
        entry,
        event=replace(entry.event, body=body),
        withheld=entry.withheld | (members & entry.body.keys()),
    )


def _without(body: Mapping[str, object], members: frozenset[str]) -> dict[str, object]:
    return {name: REDACTED if name in members else value for name, value in body.items()}
