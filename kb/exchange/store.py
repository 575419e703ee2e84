"""Take the county's files into the record: read, check, compare, then one append.

A file with any fault changes nothing. The rows that are new or changed become events, marked
as imported, in one transaction; people become accounts.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from kb.base.clock import now
from kb.base.errors import InputError, Problem, Problems, Refused, StateError
from kb.exchange.csv_in import Content, Row, read
from kb.exchange.plan import EVENT_KIND, Key, Plan, Source, body_of, plan
from kb.exchange.tables import TABLES, Table
from kb.incidents.events import Event
from kb.incidents.kinds import IMPORTED
from kb.incidents.roles import ROLES_FOR
from kb.incidents.store import Record
from kb.incidents.values import Body
from kb.library import store as library_store
from kb.library.words import parse_words
from kb.people.accounts import Account
from kb.people.roles import may
from kb.people.store import People


@dataclass(frozen=True)
class Report:
    """What an import did, or would do: rows that are new, changed, the same; and warnings."""

    kind: str
    where: str
    new: int
    changed: int
    same: int
    warnings: tuple[Problem, ...] = ()


def import_table(  # noqa: PLR0913 - the options of the command
    record: Record,
    people: People,
    kind: str,
    path: Path,
    *,
    actor: Account,
    election: str | None = None,
    check: bool = False,
    classes: Collection[str] | None = None,
) -> Report:
    """Import one file of a kind of `tables.TABLES`; with `check`, only say what would happen.

    `classes`: the ids of the county's equipment classes, by default those of the starter
    library. Raises Refused for a role that may not, InputError for a wrong kind, election or
    file, and Problems with every fault of the file.
    """
    return import_bytes(
        record, people, kind, _bytes(path), str(path),
        actor=actor, election=election, check=check, classes=classes,
    )  # fmt: skip


def import_bytes(  # noqa: PLR0913 - the options of the command
    record: Record,
    people: People,
    kind: str,
    data: bytes,
    where: str,
    *,
    actor: Account,
    election: str | None = None,
    check: bool = False,
    classes: Collection[str] | None = None,
) -> Report:
    """The same for bytes that were read, or made, already; `where` names them in messages."""
    table = known_table(record, kind, election)
    _allowed(actor, kind)
    known = _known(record, table, election, starter_classes() if classes is None else classes)
    if kind == "shifts":
        known["person"] = {account.login for account in people.all()}
    content = read(data, where, table, known)
    if kind == "people":
        return _take_people(people, content, where, check=check)
    cases = _case_ids(record, content.rows, election) if kind == "incidents" else {}
    scope = election if table.of_election else None
    source = Source(where, table, scope, actor.login, now(), cases)
    found = plan(content.rows, _present(record, kind, election), source)
    if not check:
        _append(record, found)
    return Report(kind, where, found.new, found.changed, found.same, content.warnings)


def known_table(record: Record, kind: str, election: str | None) -> Table:
    """The table of a kind. Raises InputError for a wrong kind, or a wrong or missing election."""
    if kind not in TABLES:
        raise InputError(f"No table is called '{kind}'; use one of {', '.join(TABLES)}.")
    table = TABLES[kind]
    ids = [known.id for known in record.elections()]
    if table.of_election and election not in ids:
        which = f"there is no election '{election}'" if election else "it needs --election ID"
        hint = f"known: {', '.join(ids)}" if ids else "import elections first"
        raise InputError(f"{kind} belong to one election: {which} ({hint}).")
    return table


def _allowed(actor: Account, kind: str) -> None:
    if kind == "people":
        allowed = may(actor.roles, "manage people")
    else:
        allowed = not ROLES_FOR[EVENT_KIND[kind]].isdisjoint(actor.roles)
    if actor.disabled or not allowed:
        raise Refused(f"The account {actor.login} may not import {kind}; ask an administrator.")


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror}.") from None


def _known(
    record: Record, table: Table, election: str | None, classes: Collection[str]
) -> dict[str, Collection[str]]:
    """The ids that the table's columns may name, by kind."""
    kinds = {column.of for column in table.columns}
    known: dict[str, Collection[str]] = {"equipment": classes}
    if "place" in kinds:
        known["place"] = {place.id for place in record.places()}
    if "asset" in kinds:
        known["asset"] = {device.asset for device in record.devices()}
    if "incident" in kinds:
        known["incident"] = case_names(record, str(election)).values()
    return known


def _present(record: Record, kind: str, election: str | None) -> Mapping[Key, Body]:
    """The rows that the record holds now, by key."""
    if kind == "elections":
        return {(known.id,): known for known in record.elections()}
    if kind == "places":
        return {(place.id,): place for place in record.places()}
    if kind == "equipment":
        return {(device.asset,): device for device in record.devices()}
    if kind == "exposure":
        rows = record.exposures(str(election))
        return {(row.place, row.date.isoformat()): row for row in rows}
    if kind in {"shifts", "calls"}:
        scope = election if kind == "calls" else None
        return told_rows(record, kind, scope)
    return _cases(record, election)


def told_rows(record: Record, kind: str, election: str | None) -> dict[Key, Body]:
    """The rows of a table that stand in the ledger alone, by key; the last telling holds."""
    rows: dict[Key, Body] = {}
    for event in record.told(EVENT_KIND[kind], election):
        key = tuple(str(event.body[name]) for name in TABLES[kind].key)
        rows[key] = body_of(event)
    return rows


def case_names(record: Record, election: str) -> dict[str, str]:
    """What files call each case of an election, by the record's id, in the order of numbers.

    A case that came from a file keeps the name it had there.
    """
    rows = sorted(record.incidents(election), key=lambda row: row.number)
    return {row.id: row.id for row in rows} | record.file_names(election)


def _cases(record: Record, election: str | None) -> dict[Key, Body]:
    """The last imported version of each case of an election, by the id that its file uses."""
    return {(str(event.body["incident"]),): body_of(event) for event in _imports(record, election)}


def _imports(record: Record, election: str | None) -> list[Event]:
    """The imported rows of an election; of several versions of a row the one that holds is last."""
    return sorted(record.told(IMPORTED, election), key=lambda event: (event.received, event.id))


def _case_ids(record: Record, rows: Sequence[Row], election: str | None) -> dict[str, str]:
    """The record's id for each case of a file: the file's own, where no other election has it.

    Two paper logs may both have numbered their cases from 1.
    """
    ids = {str(event.body["incident"]): str(event.incident) for event in _imports(record, election)}
    for name in (str(row.values["incident"]) for row in rows):
        if name not in ids:
            taken = any(event.election != election for event in record.events(incident=name))
            ids[name] = f"{election}:{name}" if taken else name
    return ids


def _append(record: Record, found: Plan) -> None:
    refused = [receipt for receipt in record.append(found.events) if receipt.state == "refused"]
    if refused:
        raise StateError(f"The record refused the import: {refused[0].message}")


def _take_people(people: People, content: Content, where: str, *, check: bool) -> Report:
    """People become accounts, all of the file or none."""
    before = {account.login: account for account in people.all()}
    wanted = [_account(row.values) for row in content.rows]
    new = sum(one.login not in before for one in wanted)
    same = sum(one.login in before and _as_in_file(before[one.login]) == one for one in wanted)
    if not check:
        people.put(*wanted)
    changed = len(wanted) - new - same
    return Report("people", where, new, changed, same, content.warnings)


def _as_in_file(account: Account) -> Account:
    """The account as its row would give it: the file knows nothing of disabling."""
    return replace(account, disabled=False)


def _account(values: Mapping[str, object]) -> Account:
    roles = values["role"]
    assert isinstance(roles, list)
    return Account(
        str(values["login"]),
        str(values["name"]),
        frozenset(roles),
        str(values["zone"]),
        str(values["phone"]),
    )


@cache
def starter_classes() -> frozenset[str]:
    """The equipment classes of the starter library. Raises Problems where it is damaged."""
    path = library_store.shipped() / "words.yaml"
    words, problems = parse_words(path.read_text(encoding="utf-8"), str(path))
    if problems:
        raise Problems(problems)
    return frozenset(equipment.id for equipment in words.equipment)
