"""Which texts are to be printed: by what they are about, or by their short codes."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from kb.base.errors import InputError

_PART = re.compile(r"(\d{3})(?:\s*[-–]\s*(\d{3}))?")


@dataclass(frozen=True)
class Choice:
    """What was chosen; an empty field chooses all.

    `codes` are inclusive ranges of short codes, `kinds` are kinds of article and "tree".
    """

    equipment: str = ""
    phase: str = ""
    kinds: frozenset[str] = frozenset()
    codes: tuple[tuple[int, int], ...] = ()

    def holds(self, code: str, equipment: str, phases: Iterable[str], kind: str) -> bool:
        """Whether a text with this code ("" for none) belongs to the choice."""
        if self.kinds and kind not in self.kinds:
            return False
        if self.codes and not any(low <= int(code or 0) <= high for low, high in self.codes):
            return False
        return self.equipment in {"", equipment} and (not self.phase or self.phase in phases)


def parse_codes(text: str) -> tuple[tuple[int, int], ...]:
    """Read "101-140, 214" as ranges. Raises InputError with what cannot be read."""
    ranges = []
    for part in filter(None, (part.strip() for part in re.split(r"[,;\n]", text))):
        found = _PART.fullmatch(part)
        if found is None:
            raise InputError(f"'{part}' is no short code; write 214, or 101-140 for a range.")
        low, high = int(found[1]), int(found[2] or found[1])
        if low > high:
            raise InputError(f"'{part}' runs backward; write the lower number first.")
        ranges.append((low, high))
    return tuple(ranges)
