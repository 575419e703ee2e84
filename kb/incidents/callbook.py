"""The telephone company's list of calls against the ledger: which calls left no entry.

A call of the list is found in the ledger by its case, by the line's own id of the call, or
else by time: an answer of the ledger within three minutes of it that no other call has taken.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from kb.incidents.places import CallRow

NEAR = timedelta(minutes=3)


@dataclass(frozen=True)
class Answer:
    """A call.answered of the ledger: its event, case, the line's id of the call, and when."""

    event: str
    incident: str | None
    call: str | None
    at: datetime


@dataclass(frozen=True)
class Calls:
    """`given_up`: nobody answered. `missing`: answered, and the ledger knows nothing of it.

    `alone`: answers of the ledger that are not on the list.
    """

    matched: int
    given_up: tuple[CallRow, ...]
    missing: tuple[CallRow, ...]
    alone: tuple[Answer, ...]


def reconcile(listed: Sequence[CallRow], answers: Iterable[Answer]) -> Calls:
    """Hold the list against the answers."""
    left = sorted(answers, key=lambda answer: (answer.at, answer.event))
    calls = sorted((row for row in listed if row.answered_at), key=lambda row: row.started_at)
    unmatched: list[CallRow] = []
    for row in calls:
        sure = next((one for one in left if _same(row, one)), None)
        if sure is None:
            unmatched.append(row)
        else:
            left.remove(sure)
    missing: list[CallRow] = []
    for row in unmatched:
        near = min(left, key=lambda answer: _apart(row, answer), default=None)
        if near is not None and _apart(row, near) <= NEAR:
            left.remove(near)
        else:
            missing.append(row)
    given_up = tuple(row for row in listed if not row.answered_at)
    return Calls(len(calls) - len(missing), given_up, tuple(missing), tuple(left))


def _same(row: CallRow, answer: Answer) -> bool:
    by_id = answer.call is not None and answer.call == row.call
    by_case = row.incident is not None and row.incident == answer.incident
    return by_id or (by_case and _apart(row, answer) <= timedelta(hours=1))


def _apart(row: CallRow, answer: Answer) -> timedelta:
    return abs((row.answered_at or row.started_at) - answer.at)
