"""Instants: RFC 3339 in, RFC 3339 out, always aware, always compared in UTC.

A time without an offset is refused: wall-clock arithmetic is wrong on a night when the
clocks change, and such nights fall close to elections.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

_RFC3339 = re.compile(
    r"(\d{4}-\d{2}-\d{2})[Tt](\d{2}:\d{2}:)(\d{2})(\.\d+)?([Zz]|[+-]\d{2}:\d{2})", re.ASCII
)


def now() -> datetime:
    """The present instant, in UTC, to the millisecond (what the record keeps)."""
    return truncate(datetime.now(UTC))


def truncate(instant: datetime) -> datetime:
    """The instant to the millisecond."""
    return instant.replace(microsecond=instant.microsecond // 1000 * 1000)


def parse_instant(text: str) -> datetime:
    """Read an RFC 3339 date-time; raises ValueError with what is wrong.

    A leap second (23:59:60 UTC, RFC 3339 section 5.7) becomes the second after it, since
    the computer's clock has no room for it.
    """
    match = _RFC3339.fullmatch(text)
    if match is None:
        raise ValueError(
            f"'{text}' is not a time with an offset, such as 2026-11-03T07:15:00-05:00"
        )
    date, minutes, seconds, fraction, offset = match.groups()
    leap = seconds == "60"
    plain = f"{date}T{minutes}{'59' if leap else seconds}{(fraction or '')[:7]}{offset.upper()}"
    if int(offset[1:3] if len(offset) > 1 else 0) > 23:
        raise ValueError(f"'{text}' has an offset that no time zone has")
    try:
        instant = datetime.fromisoformat(plain)
        instant.astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise ValueError(f"'{text}' is not a time: {error}") from None
    if leap:
        if instant.astimezone(UTC).strftime("%H:%M:%S") != "23:59:59":
            raise ValueError(f"'{text}' has a second 60 where no leap second can be")
        instant += timedelta(seconds=1)
    return instant


def format_instant(instant: datetime) -> str:
    """RFC 3339 in UTC, to the second where it is whole, else to the millisecond."""
    utc = instant.astimezone(UTC)
    spec = "milliseconds" if utc.microsecond >= 1000 else "seconds"
    return utc.isoformat(timespec=spec).replace("+00:00", "Z")


def local(instant: datetime, zone: str) -> datetime:
    """The instant on the wall clock of an IANA time zone."""
    return instant.astimezone(ZoneInfo(zone))
