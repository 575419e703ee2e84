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
LEVEL = 0.02


@dataclass(frozen=True)
class Finding:
    """One finding. `key` names it for ever: its method, and what it is about.

    `rows`: the filter of the register under which its cases stand; `cases`: the very cases, where
    it is about some; `place`: whose story to read.
    `measure`: where in the review's JSON the number stands that will show next time whether an
    action worked (a JSON Pointer, RFC 6901); `wanted`: which way it should go.
    """

    key: str
    method: str
    sort: Sort
    title: str
    words: str
    sure: str
    measure: str
    rows: Mapping[str, str] = field(default_factory=dict)
    cases: tuple[str, ...] = ()
    place: str | None = None
    wanted: Literal["down", "up"] = "down"


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
