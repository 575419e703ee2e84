"""Appending to the ledger and reading it. Runs inside the writer's transaction.

What an entry is by itself was checked at the intake; here it meets the record: is the id new,
is the election known, does the incident belong to it, does a correction fit what it corrects?
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence

from sqlite_utils import Database

from kb.incidents import corrections
from kb.incidents.events import Event, Receipt, Recorded, from_json
from kb.incidents.kinds import CORRECTED, WITHHELD, check_body
from kb.incidents.leaf import Leaf, leaf, leaf_hash, make_salts
from kb.incidents.order import root
from kb.incidents.rows import stamp
from kb.incidents.store import tree


def append(database: Database, event: Event, *, corrects_others: bool) -> Receipt:
    """Store one event, or say why not. The receipt has the sequence number of its log.

    `corrects_others`: whether the teller may correct what somebody else entered.
    """
    stored = find(database, event.id)
    if stored is not None:
        return _again(event, stored)
    fault = _fault(database, event, corrects_others=corrects_others)
    if fault:
        return Receipt(event.id, None, "refused", fault)
    return Receipt(event.id, _insert(database, event), "new")


def find(database: Database, identifier: str) -> Recorded | None:
    """The event of this id."""
    return next(_recorded(database, "id = ?", [identifier]), None)


def of_incident(database: Database, incident: str) -> list[Event]:
    """All events of an incident, in the order of the ledger."""
    return [one.event for one in _recorded(database, "incident = ?", [incident])]


def of_log(database: Database, log: str) -> Iterator[Recorded]:
    """A whole log, in order."""
    return _recorded(database, "log = ?", [log])


def of_kind(database: Database, log: str, kind: str) -> list[Event]:
    """The events of one kind in a log, in order."""
    # Named, since SQLite would rather read the whole log in its own order.
    query = """SELECT event FROM ledger INDEXED BY ledger_of_kind
        WHERE log = ? AND kind = ? ORDER BY sequence"""
    return [from_json(text) for (text,) in database.execute(query, [log, kind])]


def leaves(database: Database, log: str, size: int) -> list[Leaf]:
    """The first `size` leaves of a log, with what they hide."""
    query = """SELECT sequence, leaf, event, salts FROM ledger
        WHERE log = ? AND sequence <= ? ORDER BY sequence"""
    return [
        Leaf(sequence, bytes(data), from_json(event), json.loads(salts))
        for sequence, data, event, salts in database.execute(query, [log, size])
    ]


def whole(database: Database) -> Iterator[Recorded]:
    """Every log, the county's first, each in order."""
    return _recorded(database, "true", [])


def loose_corrections(database: Database, log: str) -> list[Event]:
    """Corrections in a log that belong to no incident: those of a place's marks and notes.

    Those that were asked for come with them.
    """
    return [
        event for kind in (CORRECTED, corrections.ASKED) for event in _loose(database, log, kind)
    ]


def loose_withholdings(database: Database, log: str) -> list[Event]:
    """Withholdings in a log that belong to no incident: of notices, counts, actions and marks."""
    return _loose(database, log, WITHHELD)


# Named, as above: every page asks for the notices of the day as they stand.
_LOOSE_BY = {
    CORRECTED: "ledger_corrections",
    corrections.ASKED: "ledger_asked",
    WITHHELD: "ledger_withheld",
}


def _loose(database: Database, log: str, kind: str) -> list[Event]:
    query = f"""SELECT event FROM ledger INDEXED BY {_LOOSE_BY[kind]}
        WHERE log = ? AND kind = '{kind}' AND incident IS NULL ORDER BY sequence"""  # noqa: S608 - constants
    return [from_json(text) for (text,) in database.execute(query, [log])]


def _recorded(database: Database, where: str, values: Sequence[str]) -> Iterator[Recorded]:
    query = f"SELECT log, sequence, event FROM ledger WHERE {where} ORDER BY log, sequence"  # noqa: S608 - from the constants above
    for log, sequence, text in database.execute(query, values):
        yield Recorded(from_json(text), log, sequence)


def _insert(database: Database, event: Event) -> int:
    log = event.election or ""
    sequence = tree.size(database, log) + 1
    salts = make_salts(event)
    data = leaf(event, salts)
    hash_ = leaf_hash(data)
    row = (
        log, sequence, event.id, event.election, event.incident, event.kind,
        stamp(event.happened), stamp(event.received), event.actor, event.to_json(),
        json.dumps(salts, sort_keys=True), data, hash_, int(event.imported),
    )  # fmt: skip
    marks = ", ".join("?" * len(row))
    database.execute(f"INSERT INTO ledger VALUES ({marks})", row)  # noqa: S608 - question marks
    tree.grow(database, log, sequence, hash_)
    return sequence


def _again(event: Event, stored: Recorded) -> Receipt:
    """The same id once more: acknowledged where the content is the same, else shown."""
    now, then = event.content(), stored.event.content()
    if now == then:
        return Receipt(event.id, stored.sequence, "same")
    differing = [
        f"{name} is {_shown(now[name])}, stored is {_shown(then[name])}"
        for name in now
        if now[name] != then[name]
    ]
    return Receipt(
        event.id,
        stored.sequence,
        "refused",
        f"entry {event.id} is already in the record as no. {stored.sequence} with other "
        f"content: {'; '.join(differing)}. Enter it anew, or correct the stored one.",
    )


def _shown(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)


def _fault(database: Database, event: Event, *, corrects_others: bool) -> str:
    """Why the record as it stands cannot take this event; empty where it can."""
    if event.election is not None and not _known_election(database, event.election):
        return f"entry {event.id}: there is no election '{event.election}'. Import it first."
    if event.incident is not None:
        query = "SELECT election FROM ledger WHERE incident = ? LIMIT 1"
        other = database.execute(query, [event.incident]).fetchone()
        if other is not None and other[0] != event.election:
            return (
                f"entry {event.id}: incident {event.incident} belongs to election '{other[0]}', "
                f"not to '{event.election}'."
            )
    if event.kind in {CORRECTED, WITHHELD, corrections.ASKED}:
        return _misfit(database, event, corrects_others=corrects_others)
    if event.kind == corrections.REFUSED:
        return _refusal_misfit(database, event)
    return ""


def _known_election(database: Database, election: str) -> bool:
    query = "SELECT 1 FROM elections WHERE id = ?"
    return database.execute(query, [election]).fetchone() is not None


def _misfit(database: Database, event: Event, *, corrects_others: bool) -> str:
    """Why a correction or withholding does not fit its target; one not yet here is awaited."""
    target = corrected_event(database, event)
    if target is None:
        return ""
    if (target.election, target.incident) != (event.election, event.incident):
        return f"entry {event.id}: {target.id} belongs to another incident or election."
    if event.kind == WITHHELD:
        return ""
    return _cannot_correct(database, event, target, corrects_others=corrects_others)


def _cannot_correct(
    database: Database, event: Event, target: Event, *, corrects_others: bool
) -> str:
    """Why this correction of the target cannot be taken."""
    if target.actor != event.actor and not corrects_others:
        return (
            f"entry {event.id}: {target.id} was entered by {target.actor}; "
            "only they, a lead or a manager may correct it."
        )
    replacement = event.body.get("replacement")
    if isinstance(replacement, dict):
        _, problems = check_body(target.kind, replacement, f"entry {event.id}: replacement")
        if problems:
            return "; ".join(str(problem) for problem in problems)
    if event.kind == CORRECTED and (why := _lacks_second(database, event, target)):
        return f"entry {event.id}: {why}"
    return ""


def _lacks_second(database: Database, event: Event, target: Event) -> str:
    """Whether a correction that takes two persons has its second one."""
    name = str(event.body.get("asked", ""))
    asked = find(database, name) if name else None
    return corrections.fault(
        event, target, asked.event if asked else None, decided=_decided(database, name)
    )


def _refusal_misfit(database: Database, event: Event) -> str:
    """A refusal names an asking that waits, of somebody else."""
    name = str(event.body["asked"])
    asked = find(database, name)
    if asked is None or asked.event.kind != corrections.ASKED:
        return f"entry {event.id}: no correction that was asked for has the id {name}."
    if _decided(database, name):
        return f"entry {event.id}: that correction was carried out or refused already."
    if asked.event.actor == event.actor:
        return f"entry {event.id}: nobody decides on a correction that they asked for themselves."
    return ""


def _decided(database: Database, asked: str) -> bool:
    """Whether an asking was carried out or refused."""
    query = """SELECT 1 FROM ledger WHERE kind IN ('event.corrected', 'correction.refused')
        AND json_extract(event, '$.body.asked') = ? LIMIT 1"""
    return bool(asked) and database.execute(query, [asked]).fetchone() is not None


def corrected_event(database: Database, correction: Event) -> Event | None:
    """The event that a correction means, through a chain of corrections if need be."""
    known: dict[str, Event] = {}
    name = str(correction.body["event"])
    while name not in known:
        stored = find(database, name)
        if stored is None:
            return None
        known[name] = stored.event
        if stored.event.kind == CORRECTED:
            name = str(stored.event.body["event"])
    found = root(known, str(correction.body["event"]))
    return known[found] if found else None
