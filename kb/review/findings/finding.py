"""A finding: what stands out in an election, in words, how sure, on what, and where to look.

Two sorts. *Beyond chance*: a test says that what was seen would seldom come by chance, all looks
of its method taken together. *On record*: it simply happened (seals, spares, minutes), and no
chance is in it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

Sort = Literal["beyond chance", "on record"]
# In all tests of one method together: a false finding in at most one election of fifty. The
# definitions flag at .05; with ten methods that would be a false finding in every third election.
# (The same fault at once goes by the guard of the day instead, one day in twenty.)
LEVEL = 0.02
# The method behind each kind of finding, by the beginning of its key.
METHOD_OF = {
    "high-place": "funnel",
    "high-zone": "rates",
    "slow-zone": "restore",
    "shared": "shared",
    "misfeeds": "misfeeds",
    "at-once": "alarms",
    "change": "before-after",
    "group": "before-after",
    "short-of-people": "hotline",
    "training": "training",
    "custody-gaps": "custody",
    "access-lost": "time-lost",
    "voting-stopped": "time-lost",
    "spares": "spares",
    "late-openings": "record",
    "came-back": "recurrence",
    "record-gaps": "record",
}


@dataclass(frozen=True)
class Finding:
    """One finding. `key` names it for ever: its kind, and after a colon what it is about.

    `rows`: the filter of the register under which its cases stand; `cases`: the very cases, where
    it is about some; `place`: whose story to read.
    `measure`: where in the review's JSON the number stands that will show next time whether an
    action worked (a JSON Pointer, RFC 6901); `wanted`: which way it should go.
    """

    key: str
    sort: Sort
    title: str
    words: str
    sure: str
    measure: str
    rows: Mapping[str, str] = field(default_factory=dict)
    cases: tuple[str, ...] = ()
    place: str | None = None
    wanted: Literal["down", "up"] = "down"

    @property
    def method(self) -> str:
        """The id of its method."""
        return method_of(self.key)


def method_of(key: str) -> str:
    """The id of the method behind a finding's key; empty where no finding has such a key."""
    return METHOD_OF.get(key.split(":", maxsplit=1)[0], "")


def number(sections: Mapping[str, Any], pointer: str) -> float | None:
    """The number at a place of the review's JSON; of a list or an object, how many it holds.

    None where there is none. Raises ValueError for what is no JSON Pointer.
    """
    if pointer and not pointer.startswith("/"):
        raise ValueError(f"'{pointer}' is no JSON Pointer: it begins with a slash")
    value: Any = sections
    for part in pointer.split("/")[1:]:
        name = part.replace("~1", "/").replace("~0", "~")
        if not isinstance(value, Mapping) or name not in value:
            return None
        value = value[name]
    if isinstance(value, (list, Mapping)):
        return len(value)
    return float(value) if isinstance(value, (int, float)) else None


def pointer(*names: str) -> str:
    """The JSON Pointer of these names."""
    return "".join("/" + name.replace("~", "~0").replace("/", "~1") for name in names)


def limits(sections: Mapping[str, Any], pointer: str) -> tuple[float, float] | None:
    """The 95 % limits that stand beside a number of the review; None where there are none."""
    parent, _, name = pointer.rpartition("/")
    pairs = (("low", "high"), (f"{name}_low", f"{name}_high"))
    for low, high in pairs:
        found = number(sections, f"{parent}/{low}"), number(sections, f"{parent}/{high}")
        if found[0] is not None and found[1] is not None:
            return found[0], found[1]
    return None
