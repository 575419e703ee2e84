"""What an import would change: each row of a file against what the record holds now.

Two rows are the same when they mean the same, whatever columns their files left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import rfc8785

from kb.base.clock import parse_instant
from kb.base.errors import Problem, Problems
from kb.exchange.csv_in import Row
from kb.exchange.tables import Table
from kb.incidents.events import Event
from kb.incidents.intake import imported
from kb.incidents.kinds import IMPORTED, KINDS
from kb.incidents.values import Body

EVENT_KIND = {
    "elections": "election.recorded",
    "places": "place.recorded",
    "equipment": "device.recorded",
    "exposure": "exposure.recorded",
    "incidents": IMPORTED,
    "shifts": "shift.recorded",
    "calls": "call.recorded",
}
Key = tuple[str, ...]


@dataclass(frozen=True)
class Source:
    """Where rows come from, and when: what every event of one import has in common.

    `cases`: for a file of incidents, the record's id of each case.
    """

    where: str
    table: Table
    election: str | None
    actor: str
    now: datetime
    cases: Mapping[str, str]


@dataclass(frozen=True)
class Plan:
    """The events that an import would add, and how many rows are new, changed, the same."""

    events: tuple[Event, ...]
    new: int
    changed: int
    same: int


def plan(rows: Sequence[Row], present: Mapping[Key, Body], source: Source) -> Plan:
    """Compare rows with the present ones by key. Raises Problems with file and line."""
    events: list[Event] = []
    problems: list[Problem] = []
    new = changed = 0
    for row in rows:
        before = present.get(tuple(str(row.values[name]) for name in source.table.key))
        try:
            event = _event(row, source, first=before is None)
        except Problems as error:
            problems += _placed(error.problems, row.line)
            continue
        if before is None:
            new += 1
        elif before == body_of(event):
            continue
        else:
            changed += 1
        events.append(event)
    if problems:
        raise Problems(problems)
    return Plan(tuple(events), new, changed, len(rows) - len(events))


def _event(row: Row, source: Source, *, first: bool) -> Event:
    """The event of a row: the body is the row.

    A case happened when it was reported, so that its line has the same id in every import; a
    later version of it happened when it was imported, so that it comes after the first.
    """
    case = source.table.kind == "incidents"
    told = row.values.get("reported_at") or row.values.get("started_at")
    happened = parse_instant(str(told)) if case and first and told else source.now
    line = {
        "election": source.election,
        "incident": source.cases[str(row.values["incident"])] if case else None,
        "kind": EVENT_KIND[source.table.kind],
        "happened": happened.isoformat(),
        "body": row.values,
    }
    return imported(line, importer=source.actor, received=source.now, where=source.where)


def body_of(event: Event) -> Body:
    """The body of an event as its typed row."""
    return KINDS[event.kind].model_validate_json(rfc8785.dumps(dict(event.body)))  # type: ignore[arg-type]


def _placed(problems: Sequence[Problem], line: int) -> list[Problem]:
    return [
        Problem(problem.where, line, "CSV09", problem.message, problem.field)
        for problem in problems
    ]
