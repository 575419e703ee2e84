"""The county's tables and events as files, read from its record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from kb.base.clock import now
from kb.base.errors import InputError, Refused, StateError
from kb.exchange import csv_out, event_lines, flat
from kb.exchange.event_lines import Known
from kb.exchange.store import Report, case_names, known_table, told_rows
from kb.exchange.tables import TABLES
from kb.incidents.events import Event
from kb.incidents.fold import fold
from kb.incidents.order import settle
from kb.incidents.roles import ROLES_FOR
from kb.incidents.store import Record
from kb.incidents.values import Body
from kb.people.accounts import Account
from kb.people.store import People

EVENTS = "events"


def export_table(record: Record, people: People, kind: str, election: str | None) -> bytes:
    """A table as CSV. Raises InputError for a wrong kind or election."""
    table = known_table(record, kind, election)
    if kind == "people":
        return csv_out.write(table, (_person(account) for account in people.all()))
    if kind == "incidents":
        return csv_out.write(table, _incidents(record, str(election)))
    return csv_out.write(table, map(_as_row, _rows(record, kind, election)))


def template(kind: str) -> bytes:
    """An empty file with the columns of a table. Raises InputError for a wrong kind."""
    if kind not in TABLES:
        raise InputError(f"No table is called '{kind}'; use one of {', '.join(TABLES)}.")
    return csv_out.write(TABLES[kind], ())


def export_events(record: Record, election: str | None) -> bytes:
    """What the tables do not carry, as events.jsonl, in the order in which it happened.

    Raises InputError for a wrong or missing election.
    """
    known_table(record, "incidents", election)
    groups = _by_case(record, str(election)).values()
    return event_lines.write(
        (entry for group in groups for entry in settle(group)), case_names(record, str(election))
    )


def import_events(  # noqa: PLR0913 - the options of the command
    record: Record,
    people: People,
    path: Path,
    *,
    actor: Account,
    election: str | None,
    check: bool = False,
) -> Report:
    """Take a file of events into an election, all or none.

    Raises Refused for a role that may not, and Problems with every fault of the file.
    """
    known_table(record, "incidents", election)
    if actor.disabled or ROLES_FOR["exposure.recorded"].isdisjoint(actor.roles):
        raise Refused(f"The account {actor.login} may not import events; ask an administrator.")
    name = str(election)
    cases = {called: id_ for id_, called in case_names(record, name).items()}
    known = Known(name, cases, {account.login for account in people.all()})
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror}.") from None
    lines = event_lines.read(data, str(path), known, actor.login, now())
    new = [event for event in lines.events if not record.has(event.id)]
    if not check:
        _append(record, new)
    return Report(EVENTS, str(path), len(new), 0, len(lines.events) - len(new), lines.warnings)


def _append(record: Record, events: list[Event]) -> None:
    refused = [one for one in record.append(events) if one.state == "refused"]
    if refused:
        raise StateError(f"The record refused the import: {refused[0].message}")


def _rows(record: Record, kind: str, election: str | None) -> Iterable[Body]:
    if kind == "elections":
        return sorted(record.elections(), key=lambda one: one.id)
    if kind == "places":
        return record.places()
    if kind == "equipment":
        return record.devices()
    if kind == "exposure":
        return sorted(record.exposures(str(election)), key=lambda row: (row.place, row.date))
    rows = told_rows(record, kind, election if kind == "calls" else None)
    return [rows[key] for key in sorted(rows)]


def _as_row(body: Body) -> Mapping[str, object]:
    return {name: getattr(body, name) for name in type(body).model_fields}


def _person(account: Account) -> Mapping[str, object]:
    return {
        "login": account.login,
        "name": account.name,
        "role": sorted(account.roles),
        "zone": account.zone,
        "phone": account.phone,
    }


def _incidents(record: Record, election: str) -> list[dict[str, object]]:
    names = case_names(record, election)
    groups = _by_case(record, election)
    return [flat.row(fold(groups[id_]), names) for id_ in names]


def _by_case(record: Record, election: str) -> dict[str | None, list[Event]]:
    """The events of an election by case; those of none under None."""
    groups: dict[str | None, list[Event]] = {}
    for event in record.events(election=election):
        groups.setdefault(event.incident, []).append(event)
    return groups
