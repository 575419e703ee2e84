"""One cell of a CSV table: text in, a typed value out, or a sentence about what is wrong.

Values are JSON values, since they become the body of an event: numbers, yes/no and lists stay
what they are; dates, clock times and instants stay text in their one canonical form, so that
two spellings of the same instant are the same row. An empty cell means "not known": None,
or an empty text or list.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from datetime import date
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from kb.base.clock import format_instant, parse_instant

Reader = Callable[[str], object]


class UnknownId(ValueError):
    """A word that is not in the list that the column draws from."""


# A spreadsheet takes a text that begins so for a formula; export puts one apostrophe in front.
_GUARDED = re.compile(r"'+[=+\-@\t\r]")
_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_ID = re.compile(r"\w[\w.:/#-]{0,63}")
_PHONE = re.compile(r"\+?[0-9(][0-9 ()./-]{2,28}( ?(x|ext\.?) ?[0-9]{1,6})?", re.ASCII)
_CLOCK = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]", re.ASCII)


def text(cell: str) -> str:
    """Free text, without the apostrophe that export put before a would-be formula."""
    if "\0" in cell:
        raise ValueError("holds a character with code 0; type the text again")
    return cell[1:] if _GUARDED.match(cell) else cell


def guard(value: str) -> str:
    """The way back: a text that a spreadsheet would take for a formula, made harmless."""
    return f"'{value}" if _FORMULA.match(value) else value


def identifier(cell: str) -> str:
    """An id: letters, digits and . : / # _ - inside, at most 64 characters."""
    if not _ID.fullmatch(cell):
        raise ValueError(
            f"'{cell}' is not an id; use letters, digits and . : / # _ - without spaces"
        )
    return cell


def identifiers(cell: str) -> list[str]:
    """Ids with spaces between them, in the order given."""
    return [identifier(part) for part in cell.split()]


def names(cell: str) -> list[str]:
    """Names with spaces between them, in the order given."""
    return text(cell).split()


def phone(cell: str) -> str:
    """A telephone number as it is dialed, perhaps with an extension."""
    if cell and not _PHONE.fullmatch(cell):
        raise ValueError(f"'{cell}' is not a phone number, such as 555-0142 or +1 555 0142 x3")
    return cell


def whole(cell: str) -> int | None:
    """A whole number, zero or more."""
    if not cell:
        return None
    if not (cell.isascii() and cell.isdigit() and len(cell) <= 15):
        raise ValueError(f"'{cell}' is not a whole number of zero or more, such as 412")
    return int(cell)


def degrees(limit: int) -> Reader:
    """A reader of latitude (limit 90) or longitude (limit 180), in decimal degrees."""
    pattern = re.compile(r"[+-]?[0-9]{1,3}(\.[0-9]+)?", re.ASCII)

    def read(cell: str) -> float | None:
        if not cell:
            return None
        if not pattern.fullmatch(cell) or abs(float(cell)) > limit:
            raise ValueError(f"'{cell}' is not a number of degrees from -{limit} to {limit}")
        return float(cell)

    return read


def yes_no(cell: str) -> bool:
    """`yes` or `no`."""
    if cell not in {"yes", "no"}:
        raise ValueError(f"'{cell}' is neither yes nor no")
    return cell == "yes"


def day(cell: str) -> str | None:
    """A date, yyyy-mm-dd."""
    if not cell:
        return None
    try:
        value = date.fromisoformat(cell)
    except ValueError:
        value = None
    if value is None or value.isoformat() != cell:
        raise ValueError(f"'{cell}' is not a date, such as 2026-11-03")
    return cell


def clock(cell: str) -> str | None:
    """A local time of day, hh:mm."""
    if not cell:
        return None
    if not _CLOCK.fullmatch(cell):
        raise ValueError(f"'{cell}' is not a time of day, such as 07:00")
    return cell


def instant(cell: str) -> str | None:
    """A time with its offset (RFC 3339), written in UTC."""
    return format_instant(parse_instant(cell)) if cell else None


def instant_or_clock(cell: str) -> str | None:
    """Either of the two: an election's cut-off may be told both ways."""
    return clock(cell) if _CLOCK.fullmatch(cell) else instant(cell)


def time_zone(cell: str) -> str | None:
    """The IANA name of a time zone."""
    if not cell:
        return None
    try:
        return ZoneInfo(cell).key
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError(
            f"'{cell}' is not the IANA name of a time zone, such as America/Denver"
        ) from None


def one_of(words: Collection[str], what: str) -> Reader:
    """A reader of one word out of a list, or nothing."""

    def read(cell: str) -> str | None:
        if cell and cell not in words:
            raise UnknownId(f"no {what} is called '{cell}'; use one of {', '.join(words)}")
        return cell or None

    return read


def some_of(words: Collection[str], what: str) -> Reader:
    """A reader of any words out of a list with spaces between them, kept once each."""
    one = one_of(words, what)

    def read(cell: str) -> list[str]:
        return sorted({str(one(part)) for part in cell.split()})

    return read
