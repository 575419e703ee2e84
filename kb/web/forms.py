"""Reading a form: every fault is kept beside its field, and what was typed is never lost."""

from __future__ import annotations

from collections.abc import Container, Iterable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from flask import request

from kb.base.clock import now
from kb.incidents.personal import looks_personal
from kb.web.shown import clock, zone

# As the record takes them.
LONGEST_LINE = 500
LONGEST_TEXT = 2_000
# So far a watch may run ahead; so far ahead a time is rather a slip than yesterday's.
WATCHES_DIFFER = timedelta(minutes=2)
A_SLIP = timedelta(minutes=60)


def inside(target: str) -> str:
    """The target where it is a path of our own; empty where it leads to another site."""
    # Control signs are dropped by browsers and servers, and could turn "/<tab>/x" into "//x".
    plain = target.isprintable() and "\\" not in target
    return target if plain and target.startswith("/") and not target.startswith("//") else ""


class Form:
    """The fields of the request, and `problems` (field: what to do) gathered while reading."""

    def __init__(self) -> None:
        self.typed = request.form
        self.problems: dict[str, str] = {}
        # Fields whose text looks personal: the page asks whether it must stay.
        self.personal: list[str] = []

    def kept(self, names: Iterable[str]) -> dict[str, object]:
        """The fields of these names that were filled in, as typed; `flags` are a list."""
        filled = {name: [value for value in self.typed.getlist(name) if value] for name in names}
        return {
            name: values if name == "flags" else values[0]
            for name, values in sorted(filled.items())
            if values
        }

    def text(self, name: str, need: str = "", longest: int = LONGEST_LINE) -> str:
        """A line of text, trimmed; `need` is the message where it must not be empty."""
        value = " ".join(self.typed.get(name, "").split())
        if not value and need:
            self.problems[name] = need
        if len(value) > longest:
            self.problems[name] = f"Shorten this to {longest} characters; it has {len(value)}."
        return value

    def free_text(self, name: str, need: str = "", known: str | None = None) -> str:
        """A line of text that people write freely; what looks personal is asked about first.

        What is `known`, since it is stored already, is not asked about again.
        """
        value = self.text(name, need, LONGEST_TEXT)
        looks = looks_personal(value) if value != known else []
        if looks and f"keep_{name}" not in self.typed:
            self.personal.append(name)
            self.problems[name] = (
                f"This looks like {' and '.join(looks)}. Take it out, or tick that it must stay."
            )
        return value

    def choice(self, name: str, allowed: Container[str], need: str = "") -> str:
        """One of the ids allowed, or an empty string."""
        value = self.text(name, need)
        if value and value not in allowed:
            self.problems[name] = f"'{value}' is not one of the choices. Pick one from the list."
            return ""
        return value

    def choices(self, name: str, allowed: Iterable[str]) -> list[str]:
        """Those of the ids allowed that were ticked."""
        ticked = set(self.typed.getlist(name))
        return [item for item in allowed if item in ticked]

    def number(self, name: str, need: str = "") -> int | None:
        """A whole number from 0 up; thousands may be set apart by commas or spaces."""
        value = self.text(name).replace(",", "").replace(" ", "")
        if not value:
            if need:
                self.problems[name] = need
            return None
        if not (value.isascii() and value.isdecimal()) or len(value) > 9:
            self.problems[name] = (
                f"'{value}' is not a whole number. Type digits only, such as 1204."
            )
            return None
        return int(value)

    def time(self, name: str) -> datetime:
        """A wall-clock time of the last 24 hours, such as 10:42; empty means now.

        A time later than now is yesterday's; one that is only a little later is asked about, since
        it is more likely a slip, or a watch that runs fast. Of a time that the clock shows twice
        in the night when it is set back, the later one is meant.
        """
        present = now()
        there = self._today(name, present)
        if there is None or there <= present + WATCHES_DIFFER:
            return there or present
        if there <= present + A_SLIP:
            self.problems[name] = (
                f"It is {clock(present)} now, so {clock(there)} is still to come. Type when it was."
            )
            return present
        return (there.replace(tzinfo=None) - timedelta(days=1)).replace(tzinfo=there.tzinfo)

    def time_from(self, name: str, first: datetime | None) -> datetime:
        """A time as `time` reads it, not before `first`: nothing ends before it began."""
        at = self.time(name)
        # To the minute, since that is how times are typed.
        if first is not None and at < first.replace(second=0, microsecond=0):
            self.problems.setdefault(
                name,
                f"It began at {clock(first)}, so it cannot have worked again at {clock(at)}. "
                "Type a later time.",
            )
        return at

    def later(self, name: str) -> datetime | None:
        """The next time that the wall clock shows this, within 24 hours; None where empty."""
        present = now()
        there = self._today(name, present)
        if there is None or there > present:
            return there
        return (there.replace(tzinfo=None) + timedelta(days=1)).replace(tzinfo=there.tzinfo)

    def _today(self, name: str, present: datetime) -> datetime | None:
        """A wall-clock time of today; None where nothing or no time was typed."""
        value = self.text(name)
        if not value:
            return None
        try:
            hour, minute = (int(part) for part in value.split(":"))
            return present.astimezone(ZoneInfo(zone())).replace(
                hour=hour, minute=minute, second=0, microsecond=0, fold=1
            )
        except ValueError:
            self.problems[name] = (
                f"'{value}' is not a time. Type it as hours:minutes, such as {clock(present)}."
            )
            return None
