"""When a log that has grown is to be signed: each hour, and at the close of polls.

Instants are compared, never wall clocks, so the hour that a change of the clocks repeats or
leaves out is an hour like any other; the close of polls is the election's own, in its zone.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Literal

HOUR = timedelta(hours=1)


def due(
    last: datetime | None, closes: datetime | None, now: datetime
) -> Literal["hourly", "close"] | None:
    """Why a checkpoint is due now, if it is. `last` is when the latest one was made.

    The close counts for an hour after it: a server that was down longer makes an hourly one. A
    `last` that lies ahead was made while the clock was wrong, and holds nothing up.
    """
    # Python adds and compares on the wall clock where two instants share a zone, so all are in UTC.
    last, closes, now = _utc(last), _utc(closes), now.astimezone(UTC)
    if closes is not None and closes <= now < closes + HOUR and (last is None or last < closes):
        return "close"
    if last is None or not last <= now < last + HOUR:
        return "hourly"
    return None


def _utc(instant: datetime | None) -> datetime | None:
    return instant.astimezone(UTC) if instant else None
