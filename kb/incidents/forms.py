"""Pre-numbered paper forms against the ledger: which are used, spoiled, blank, missing.

Forms are for the hours when the system is away. Each number that was issued must turn up: in a
case that was typed in, or in a line that says what became of the form.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from kb.incidents.events import Event

# What tells of paper forms.
KINDS = frozenset({"forms.issued", "form.accounted", "incident.reported"})


@dataclass(frozen=True)
class Forms:
    """The account of all forms of an election; numbers in order.

    `open`: issued, and nothing is known of them. `twice`: used in two cases. `stray`: told of,
    but never issued.
    """

    issued: tuple[int, ...]
    used: Mapping[int, str]
    states: Mapping[str, tuple[int, ...]]
    open: tuple[int, ...]
    twice: tuple[int, ...]
    stray: tuple[int, ...]

    @property
    def settled(self) -> bool:
        """Whether every form is accounted for, none of them as missing."""
        return not (self.open or self.twice or self.stray or self.states.get("missing"))


def account(events: Iterable[Event]) -> Forms:
    """The account, from an election's events (struck-out ones left out by the caller)."""
    issued: set[int] = set()
    used: dict[int, str] = {}
    told: dict[int, str] = {}
    uses: Counter[int] = Counter()
    cases: dict[int, set[str]] = {}
    for event in events:
        body = event.body
        if event.kind == "forms.issued":
            issued |= set(range(_whole(body["first"]), _whole(body["last"]) + 1))
        elif event.kind == "form.accounted":
            number = _whole(body["form"])
            told[number] = str(body["state"])
            if body.get("incident"):
                cases.setdefault(number, set()).add(str(body["incident"]))
        elif event.kind == "incident.reported" and str(body.get("form", "")).isdecimal():
            number = _whole(body["form"])
            told.setdefault(number, "used")
            cases.setdefault(number, set()).add(str(event.incident))
    for number, names in cases.items():
        used[number], uses[number] = min(names), len(names)
    states = {
        state: tuple(sorted(number for number, one in told.items() if one == state))
        for state in sorted(set(told.values()))
    }
    return Forms(
        issued=tuple(sorted(issued)),
        used=used,
        states=states,
        open=tuple(sorted(issued - told.keys())),
        twice=tuple(sorted(number for number, times in uses.items() if times > 1)),
        stray=tuple(sorted(told.keys() - issued)),
    )


def ranges(numbers: Iterable[int]) -> str:
    """Numbers as people write them: 1-4, 7, 9-12."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(f"{first}" if first == last else f"{first}-{last}" for first, last in runs)


def _whole(value: object) -> int:
    return int(str(value))
