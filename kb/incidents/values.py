"""The types of which event bodies and rows are made: read strictly, written in one way only.

A value that has several spellings (an instant, a time of day, a set of flags) is brought to
one, so that two tellings of the same thing are the same content.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import date, datetime, time
from typing import Annotated
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    PlainSerializer,
    PlainValidator,
    StringConstraints,
)

from kb.base.clock import format_instant, parse_instant
from kb.incidents import lists

FIRST_YEAR, LAST_YEAR = 1970, 2999


class Body(BaseModel):
    """A closed set of members; what is not known is left out, never written as null."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, populate_by_name=True)


def _one_of(words: Collection[str], what: str) -> Callable[[str], str]:
    def check(word: str) -> str:
        if word not in words:
            raise ValueError(f"no {what} is called '{word}'; use one of {', '.join(words)}")
        return word

    return check


def _flags(words: tuple[str, ...]) -> tuple[str, ...]:
    check = _one_of(lists.FLAGS, "flag")
    return tuple(sorted({check(word) for word in words}))


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise ValueError("must be text")  # noqa: TRY004 - pydantic reports ValueError with the rest
    return value


def read_instant(value: object) -> datetime:
    """Read an RFC 3339 time. Raises ValueError for what is none, and for years out of reason.

    The limits leave room for the skew of a wrong clock to be added or taken off.
    """
    instant = value if isinstance(value, datetime) else parse_instant(_text(value))
    if not FIRST_YEAR <= instant.year <= LAST_YEAR:
        raise ValueError(f"'{value}' is not in the years {FIRST_YEAR} to {LAST_YEAR}")
    return instant


def _clock(value: object) -> time:
    if isinstance(value, time):
        return value
    text = _text(value)
    try:
        # As written mostly; the reader of other spellings takes ten times as long.
        if len(text) == 5 and text[2] == ":":
            return time.fromisoformat(text)
        return datetime.strptime(text, "%H:%M").time()  # noqa: DTZ007 - a wall clock has no zone
    except ValueError:
        raise ValueError(f"'{text}' is not a time of day, such as 07:00") from None


def _day(value: object) -> date:
    if isinstance(value, date):
        return value
    text = _text(value)
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"'{text}' is not a date, such as 2026-11-03") from None


def _zone(name: str) -> str:
    try:
        return ZoneInfo(name).key
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError(
            f"'{name}' is not the IANA name of a time zone, such as America/Denver"
        ) from None


Phase = Annotated[str, AfterValidator(_one_of(lists.PHASES, "phase"))]
Symptom = Annotated[str, AfterValidator(_one_of(lists.SYMPTOMS, "symptom"))]
Effect = Annotated[str, AfterValidator(_one_of(lists.EFFECTS, "effect"))]
Desk = Annotated[str, AfterValidator(_one_of(lists.DESKS, "desk"))]
Outcome = Annotated[str, AfterValidator(_one_of(lists.OUTCOMES, "outcome"))]
Cause = Annotated[str, AfterValidator(_one_of(lists.CAUSES, "cause"))]
Confidence = Annotated[str, AfterValidator(_one_of(lists.CONFIDENCES, "confidence"))]
Flags = Annotated[tuple[str, ...], AfterValidator(_flags)]

Identifier = Annotated[str, StringConstraints(min_length=1, max_length=64, pattern=r"^\S+$")]
# A name, a label, a number that is spoken: one short line.
Line = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=500)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=20_000)]
Count = Annotated[int, Field(ge=0, lt=10**15)]
Instant = Annotated[datetime, PlainValidator(read_instant), PlainSerializer(format_instant)]
Clock = Annotated[time, PlainValidator(_clock), PlainSerializer(lambda value: f"{value:%H:%M}")]
Day = Annotated[date, PlainValidator(_day), PlainSerializer(lambda value: value.isoformat())]
Zone = Annotated[str, AfterValidator(_zone)]
