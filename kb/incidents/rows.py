"""An incident as one flat row: what lists filter by, reviews count and files carry.

A row follows from the incident alone; the place's name and zone, and the priority, which
depends on the hour, are added when a list is read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from typing import Any

from kb.incidents.incident import Incident


@dataclass(frozen=True)
class Row:
    """One incident of a list. `number` is the short number that is spoken, one an election."""

    id: str
    election: str
    number: int
    status: str
    place: str | None
    precinct: str | None
    phase: str | None
    equipment: str | None
    asset: str | None
    symptom: str | None
    cause: str | None
    cause_confidence: str | None
    effect: str | None
    worst_effect: str | None
    flags: frozenset[str]
    ballots_inside: bool | None
    wait_minutes: int | None
    blocks_opening: bool
    last_of_class: bool
    stored_growing: bool
    ballots_affected: int | None
    voters_affected: int | None
    words: str | None
    note: str | None
    article: str | None
    rover: str | None
    rover_there: bool
    outcome: str | None
    duplicate_of: str | None
    parent: str | None
    call_back: str | None
    first: datetime | None
    started: datetime | None
    started_estimated: bool
    reported: datetime | None
    answered: datetime | None
    dispatched: datetime | None
    arrived: datetime | None
    restored: datetime | None
    closed: datetime | None
    held: bool
    imported: bool
    county_wide: bool
    report_by: datetime | None
    call_back_due: datetime | None
    place_name: str | None = None
    zone: str | None = None
    priority: int = 4

    @property
    def start(self) -> datetime | None:
        """When the trouble began, as far as known: started, else reported."""
        return self.started or self.reported

    def holds(self, words: Iterable[str]) -> bool:
        """Whether each of these words, in small letters, stands somewhere in the row's texts."""
        texts = (self.words, self.note, self.asset, self.place, self.place_name, str(self.number))
        line = " ".join(text for text in texts if text).casefold()
        return all(word in line for word in words)


# Added at reading, so not stored.
_JOINED = frozenset({"place_name", "zone", "priority"})
STORED: dict[str, str] = {
    field.name: str(field.type) for field in fields(Row) if field.name not in _JOINED
}


def by_rover(rows: Iterable[Row]) -> dict[str, list[Row]]:
    """The stops of each rover who has any, in the order of the rows."""
    stops: dict[str, list[Row]] = {}
    for row in rows:
        if row.rover:
            stops.setdefault(row.rover, []).append(row)
    return stops


def columns_of(incident: Incident, number: int) -> dict[str, str | int | None]:
    """The stored columns of an incident."""
    values = {name: getattr(incident, name) for name in STORED if name != "number"}
    return {name: _plain(value) for name, value in (values | {"number": number}).items()}


def row_of(columns: Mapping[str, Any]) -> Row:
    """The way back: a row from its columns and those of its place."""
    told: dict[str, Any] = {name: _READERS[kind](columns[name]) for name, kind in STORED.items()}
    return Row(**told, place_name=columns["place_name"], zone=columns["zone"])


def stamp(instant: datetime) -> str:
    """An instant as text whose alphabetical order is the order in time."""
    return instant.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _plain(value: Any) -> str | int | None:  # noqa: ANN401 - any field of a row
    if isinstance(value, datetime):
        return stamp(value)
    if isinstance(value, frozenset):
        return " ".join(sorted(value))
    return value if value is None or isinstance(value, str) else int(value)


def _maybe(read: Callable[[Any], object]) -> Callable[[Any], object]:
    return lambda value: None if value is None else read(value)


_READERS: dict[str, Callable[[Any], object]] = {
    "str": str,
    "int": int,
    "bool": bool,
    "str | None": lambda value: value,
    "int | None": lambda value: value,
    "bool | None": _maybe(bool),
    # As `stamp` wrote it; the general reader takes ten times as long.
    "datetime | None": _maybe(datetime.fromisoformat),
    "frozenset[str]": lambda value: frozenset(value.split()),
}
