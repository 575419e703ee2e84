"""Appending to the ledger and reading it. Runs inside the writer's transaction.

What an entry is by itself was checked at the intake; here it meets the record: is the id new,
is the election known, does the incident belong to it, does a correction fit what it corrects?
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence

from sqlite_utils import Database

from kb.incidents import corrections
from kb.incidents.deciding import DECIDED, correction_refusal
from kb.incidents.events import UUID4, Event, Receipt, Recorded, from_json
from kb.incidents.kinds import CORRECTED, FINAL, WITHHELD, check_body
from kb.incidents.leaf import Leaf, leaf, leaf_hash, make_salts
from kb.incidents.order import settle
from kb.incidents.roles import CORRECTS_OTHERS, ROLES_FOR
from kb.incidents.rows import stamp
from kb.incidents.store import tree

# An id stands in addresses: with a slash, or as two dots, its page could not be opened.
_NEW_INCIDENT = re.compile(r"[A-Za-z0-9][A-Za-z0-9._:-]*")


def append(database: Database, event: Event, *, roles: frozenset[str]) -> Receipt:
    """Store one event, or say why not. The receipt has the sequence number of its log.

    `roles`: those of the teller, since a correction needs those of what it corrects.
    """
    stored = find(database, event.id)
    if stored is not None:
        return _again(event, stored)
    fault = _fault(database, event, roles=roles)
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

    Those that were asked for come with them, and their refusals.
    """
    return [
        event
        for kind in (CORRECTED, corrections.ASKED, corrections.REFUSED)
        for event in _loose(database, log, kind)
    ]


def loose_withholdings(database: Database, log: str) -> list[Event]:
    """Withholdings in a log that belong to no incident: of notices, counts, actions and marks."""
    return _loose(database, log, WITHHELD)


# Named, as above: every page asks for the notices of the day as they stand.
_LOOSE_BY = {
    CORRECTED: "ledger_corrections",
    corrections.ASKED: "ledger_asked",
    # Few: so they need no index of their own.
    corrections.REFUSED: "ledger_of_kind",
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


def _fault(database: Database, event: Event, *, roles: frozenset[str]) -> str:
    """Why the record as it stands cannot take this event; empty where it can."""
    if event.election is not None and not _known_election(database, event.election):
        return f"entry {event.id}: there is no election '{event.election}'. Import it first."
    if event.incident is not None and (why := _incident_misfit(database, event, event.incident)):
        return f"entry {event.id}: {why}"
    if event.kind in {CORRECTED, WITHHELD, corrections.ASKED}:
        return _misfit(database, event, roles=roles)
    if event.kind == corrections.REFUSED:
        return _refusal_misfit(database, event)
    return ""


def _incident_misfit(database: Database, event: Event, incident: str) -> str:
    """Why an entry cannot belong to this incident, known or new."""
    query = "SELECT election FROM ledger WHERE incident = ? LIMIT 1"
    known = database.execute(query, [incident]).fetchone()
    if known is None:
        if event.imported or _NEW_INCIDENT.fullmatch(incident):
            return ""
        return (
            f"'{incident}' cannot be the id of a new incident. Use letters, digits and - _ . : "
            "alone, with a letter or a digit first."
        )
    if known[0] != event.election:
        return f"incident {incident} belongs to election '{known[0]}', not to '{event.election}'."
    return ""


def _known_election(database: Database, election: str) -> bool:
    query = "SELECT 1 FROM elections WHERE id = ?"
    return database.execute(query, [election]).fetchone() is not None


def _misfit(database: Database, event: Event, *, roles: frozenset[str]) -> str:
    """Why a correction or withholding does not fit its target; one not yet here is awaited."""
    target = corrected_event(database, event)
    if target is None:
        return _cannot_come_first(database, event, roles)
    if (target.election, target.incident) != (event.election, event.incident):
        return f"entry {event.id}: {target.id} belongs to another incident or election."
    if event.kind == WITHHELD:
        return ""
    return _cannot_correct(database, event, target, roles=roles)


def _cannot_correct(
    database: Database, event: Event, target: Event, *, roles: frozenset[str]
) -> str:
    """Why this correction of the target cannot be taken."""
    if why := _may_not_correct(event, target, roles):
        return f"entry {event.id}: {why}"
    replacement = event.body.get("replacement")
    if target.kind == DECIDED:
        then = replacement if isinstance(replacement, dict) else None
        if why := correction_refusal(_body_now(database, target), then, roles):
            return f"entry {event.id}: {why}."
    if isinstance(replacement, dict):
        _, problems = check_body(target.kind, replacement, f"entry {event.id}: replacement")
        if problems:
            return "; ".join(str(problem) for problem in problems)
    if event.kind == CORRECTED and (why := _lacks_second(database, event, target)):
        return f"entry {event.id}: {why}"
    return ""


def _cannot_come_first(database: Database, event: Event, roles: frozenset[str]) -> str:
    """Why a correction cannot be taken before what it corrects is here.

    A phone may send one of its own entries first. The fold sees to it that it is one's own.
    """
    if event.kind == WITHHELD:
        return ""
    name = _named(database, event)
    if "asked" in event.body:
        return f"entry {event.id}: {name} is not in the record yet. Carry it out when it is there."
    if not UUID4.fullmatch(name):
        return f"entry {event.id}: {name} is not in the record. Correct an entry that is there."
    replacement = event.body.get("replacement")
    if isinstance(replacement, dict):
        # Perhaps of a decision: one that its teller may not make is none by correction either.
        why = correction_refusal({}, replacement, roles)
        return f"entry {event.id}: {why}." if why else ""
    return ""


def _body_now(database: Database, target: Event) -> Mapping[str, object]:
    """What an entry says with the corrections that are there."""
    if target.incident is not None:
        events = of_incident(database, target.incident)
    else:
        events = [target, *loose_corrections(database, target.election or "")]
    return next(entry.body for entry in settle(events) if entry.id == target.id)


def _may_not_correct(event: Event, target: Event, roles: frozenset[str]) -> str:
    """Why somebody of these roles may not correct this entry: it takes those that enter it."""
    if target.kind in FINAL:
        return corrections.fault(event, target, None, decided=False)
    if target.actor != event.actor and CORRECTS_OTHERS.isdisjoint(roles):
        return (
            f"{target.id} was entered by {target.actor}; "
            "only they, a lead or a manager may correct it."
        )
    if corrections.came_first(event, target):
        return (
            f"the server's clock stands before the time at which {target.id} was received; "
            "set it right and send this again."
        )
    if ROLES_FOR[target.kind].isdisjoint(roles):
        allowed = ", ".join(sorted(ROLES_FOR[target.kind]))
        return f"{target.kind} is corrected by one of the roles {allowed} alone; ask one of them."
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
    if (asked.event.election, asked.event.incident) != (event.election, event.incident):
        return f"entry {event.id}: {name} belongs to another incident or election."
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
    stored = find(database, _named(database, correction))
    return None if stored is None or stored.event.kind == CORRECTED else stored.event


def _named(database: Database, correction: Event) -> str:
    """The id at the end of a chain of corrections, whether it is here or not.

    Where they name one another in a ring, one of the ring.
    """
    seen: set[str] = set()
    name = str(correction.body["event"])
    while name not in seen:
        seen.add(name)
        stored = find(database, name)
        if stored is not None and stored.event.kind == CORRECTED:
            name = str(stored.event.body["event"])
    return name
