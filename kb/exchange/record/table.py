"""The readable table of a record: one line a case. Derived from the entries, not proven itself.

In the public copy times are rounded to a quarter of an hour, counts under ten are not shown,
and nothing that people typed stands in it.
"""

from __future__ import annotations

from collections.abc import Sequence
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
# Not even as a table: they tell of the handling of codes, or of the network.
_SECRET = frozenset({"code-refused", "will-not-connect"})


def table(cases: Sequence[tuple[int, Incident]], *, public: bool) -> bytes:
    """The table as CSV. `cases`: the short number of each, and the case as it stands."""
    lines = (
        [cells.guard(_cell(number, case, name, public=public)) for name in COLUMNS]
        for number, case in cases
    )
    return csv_out.written(COLUMNS, lines)


def quarter(at: datetime) -> datetime:
    """The quarter of an hour that is nearest."""
    whole = datetime.min.replace(tzinfo=UTC)
    return whole + round((at - whole) / QUARTER) * QUARTER


def _cell(number: int, case: Incident, name: str, *, public: bool) -> str:
    value: object = {"case": case.id, "number": number, "effect": case.worst_effect}.get(
        name, getattr(case, name, None)
    )
    if isinstance(value, frozenset):
        value = sorted(value)
    if name in {"cause", "outcome"}:
        return lists.SHOWN.get(str(value), str(value)) if value else ""
    if public and name in _TYPED:
        return ""
    if public and name == "symptom" and value in _SECRET:
        return ""
    if public and name in _COUNTS and isinstance(value, int) and 0 < value < SMALLEST_CELL:
        return f"fewer than {SMALLEST_CELL}"
    if public and isinstance(value, datetime):
        return format_instant(quarter(value))
    return csv_out.plain(value)
