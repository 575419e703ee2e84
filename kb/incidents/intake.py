"""The one door for events: who may tell it, and whether it is whole.

Here an entry is judged by itself. What needs the record (is the election known, was the id
used before) is asked by the store, in the transaction that writes.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

import rfc8785

from kb.base.clock import truncate
from kb.base.errors import Problem, Problems, Refused
from kb.incidents.deciding import DECIDED, refusal
from kb.incidents.events import UUID4, Event
from kb.incidents.kinds import COUNTY, KINDS, NOT_OF_AN_INCIDENT, OF_AN_INCIDENT, check_body
from kb.incidents.roles import ROLES_FOR
from kb.incidents.values import read_instant

if TYPE_CHECKING:
    from kb.people.accounts import Account

ENTRY_MEMBERS = frozenset({"id", "election", "incident", "kind", "happened", "sent", "body"})
LINE_MEMBERS = frozenset({"election", "incident", "kind", "happened", "actor", "body"})
# Half a surrogate pair is no sign: it cannot be written as UTF-8, though JSON can spell it.
_LABEL = re.compile(r"[^\s\ud800-\udfff]{1,64}")


def admit(entry: Mapping[str, object], *, actor: Account, received: datetime) -> Event:
    """Make an event of what a client sent.

    Raises Refused where the person's roles do not allow this kind, and Problems with all
    faults of the envelope and the body at once.
    """
    kind = entry.get("kind")
    if isinstance(kind, str) and kind in KINDS:
        _check_role(kind, actor)
    where = f"entry {entry.get('id', '')}".strip()
    problems = [*_envelope_problems(entry, where)]
    instants = {name: _instant(entry, name, where, problems) for name in ("happened", "sent")}
    body = _body(entry, where, problems)
    if kind == DECIDED and "about" in body:
        why = refusal(str(body["about"]), actor.roles, str(body.get("who_else", "")))
        problems += [Problem(where, 0, "DECISION", why)] if why else []
    if problems:
        raise Problems(problems)
    return Event(
        id=str(entry["id"]),
        election=_optional(entry, "election"),
        incident=_optional(entry, "incident"),
        kind=str(kind),
        happened=truncate(instants["happened"] or received),
        sent=truncate(instants["sent"] or received),
        received=truncate(received),
        actor=actor.login,
        body=body,
    )


def imported(
    line: Mapping[str, object], *, importer: str, received: datetime, where: str = ""
) -> Event:
    """Make an event of a line of a file: election, incident, kind, happened, actor?, body.

    It is marked as imported, and its id is the hash of the canonical line, so that the same
    line imported twice is one event. Without an actor it is the importer's. Raises Problems
    with all faults of the line, `where` naming it.
    """
    problems = [*_foreign(line, LINE_MEMBERS, where), *_scope_problems(line, where)]
    if (actor := _optional(line, "actor")) and not _LABEL.fullmatch(actor):
        message = "actor: must be a login of at most 64 signs without spaces, or left out"
        problems.append(Problem(where, 0, "ENTRY", message, field="actor"))
    happened = _instant(line, "happened", where, problems)
    body = _body(line, where, problems)
    if problems or happened is None:
        raise Problems(problems)
    at = truncate(received)
    event = Event(
        id="",
        election=_optional(line, "election"),
        incident=_optional(line, "incident"),
        kind=str(line["kind"]),
        happened=truncate(happened),
        sent=at,
        received=at,
        actor=actor or importer,
        body=body,
        imported=True,
    )
    told = rfc8785.dumps(event.content())  # type: ignore[arg-type]
    return replace(event, id=hashlib.sha256(told).hexdigest())


def _check_role(kind: str, actor: Account) -> None:
    if actor.disabled or ROLES_FOR[kind].isdisjoint(actor.roles):
        allowed = ", ".join(sorted(ROLES_FOR[kind]))
        held = ", ".join(sorted(actor.roles)) or "none"
        raise Refused(
            f"{actor.login} may not enter {kind}: it takes one of the roles {allowed}, "
            f"the account {'is disabled' if actor.disabled else f'has {held}'}."
        )


def _envelope_problems(entry: Mapping[str, object], where: str) -> list[Problem]:
    found = _foreign(entry, ENTRY_MEMBERS, where)
    identifier = entry.get("id")
    if not isinstance(identifier, str) or not UUID4.fullmatch(identifier):
        message = "id: must be a random UUID (version 4) in small letters"
        found.append(Problem(where, 0, "ENTRY", message, field="id"))
    return found + _scope_problems(entry, where)


def _foreign(entry: Mapping[str, object], members: frozenset[str], where: str) -> list[Problem]:
    return [
        Problem(where, 0, "ENTRY", f"{name}: is not part of an entry", field=name)
        for name in sorted(map(str, entry.keys() - members))
    ]


def _scope_problems(entry: Mapping[str, object], where: str) -> list[Problem]:
    """Faults of kind, election and incident, and of how they go together."""
    kind = entry.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        message = f"kind: no event kind is called '{kind}'; use one of {', '.join(KINDS)}"
        return [Problem(where, 0, "ENTRY", message, field="kind")]
    faults: list[tuple[str, str]] = []
    for name in ("election", "incident"):
        value = entry.get(name)
        if value is not None and not (isinstance(value, str) and _LABEL.fullmatch(value)):
            faults.append((name, "must be an id of at most 64 signs without spaces, or null"))
    if kind in COUNTY and entry.get("election") is not None:
        faults.append(("election", f"must be null: {kind} belongs to the county"))
    if kind in NOT_OF_AN_INCIDENT and entry.get("incident") is not None:
        faults.append(("incident", f"must be null: {kind} belongs to no incident"))
    if kind not in COUNTY and entry.get("election") is None:
        faults.append(("election", f"is missing; {kind} belongs to an election"))
    if kind in OF_AN_INCIDENT and entry.get("incident") is None:
        faults.append(("incident", f"is missing; {kind} belongs to an incident"))
    return [Problem(where, 0, "ENTRY", f"{name}: {text}", field=name) for name, text in faults]


def _instant(
    entry: Mapping[str, object], name: str, where: str, problems: list[Problem]
) -> datetime | None:
    value = entry.get(name)
    if value is None and name == "sent":
        return None
    try:
        return read_instant(value)
    except ValueError as error:
        problems.append(Problem(where, 0, "ENTRY", f"{name}: {error}", field=name))
        return None


def _body(entry: Mapping[str, object], where: str, problems: list[Problem]) -> dict[str, object]:
    kind, body = entry.get("kind"), entry.get("body", {})
    if not isinstance(body, Mapping):
        problems.append(Problem(where, 0, "BODY", "body: must be a JSON object", field="body"))
        return {}
    if not isinstance(kind, str) or kind not in KINDS:
        return {}
    checked, found = check_body(kind, body, where)
    problems.extend(found)
    return checked


def _optional(entry: Mapping[str, object], name: str) -> str | None:
    value = entry.get(name)
    return None if value is None else str(value)
