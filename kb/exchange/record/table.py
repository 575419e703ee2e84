"""The readable table of a record: one line a case. Derived from the entries, not proven itself.

In the public copy times are rounded to a quarter of an hour, counts under ten are not shown,
nothing that people typed stands in it, and nothing that the entries withhold.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import UTC, datetime, timedelta

from kb.base.clock import format_instant
from kb.exchange import cells, csv_out
from kb.exchange.record.public import SMALLEST_CELL
from kb.incidents import lists
from kb.incidents.incident import Incident

QUARTER = timedelta(minutes=15)
COLUMNS = (
    "case", "number", "place", "asset", "equipment", "symptom", "phase", "effect", "flags",
    "started", "reported", "dispatched", "arrived", "restored", "closed", "outcome", "cause",
    "ballots_affected", "voters_affected", "words", "note",
)  # fmt: skip
_TYPED = frozenset({"words", "note"})
_COUNTS = frozenset({"ballots_affected", "voters_affected"})


def table(
    cases: Sequence[tuple[int, Incident]], hidden: Mapping[str, Collection[str]], *, public: bool
) -> bytes:
    """The table as CSV. `cases`: the short number of each, and the case as it stands.

    `hidden`: the members that the public copy withholds in any entry of a case.
    """
    lines = (
        [
            cells.guard(
                _public_cell(number, case, name, hidden.get(case.id, ()))
                if public
                else _cell(number, case, name)
            )
            for name in COLUMNS
        ]
        for number, case in cases
    )
    return csv_out.written(COLUMNS, lines)


def quarter(at: datetime) -> datetime:
    """The quarter of an hour that is nearest."""
    whole = datetime.min.replace(tzinfo=UTC)
    return whole + round((at - whole) / QUARTER) * QUARTER


def _value(number: int, case: Incident, name: str) -> object:
    value: object = {"case": case.id, "number": number, "effect": case.worst_effect}.get(
        name, getattr(case, name, None)
    )
    return sorted(value) if isinstance(value, frozenset) else value


def _cell(number: int, case: Incident, name: str) -> str:
    value = _value(number, case, name)
    if name in {"cause", "outcome"}:
        return lists.SHOWN.get(str(value), str(value)) if value else ""
    return csv_out.plain(value)


def _public_cell(number: int, case: Incident, name: str, hidden: Collection[str]) -> str:
    value = _value(number, case, name)
    if name in _TYPED:
        return ""
    if isinstance(value, datetime):
        return format_instant(quarter(value))
    if name in _COUNTS and isinstance(value, int) and 0 < value < SMALLEST_CELL:
        return f"fewer than {SMALLEST_CELL}"
    return "" if f"body.{name}" in hidden else _cell(number, case, name)
