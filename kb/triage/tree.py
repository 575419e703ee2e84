"""A tree as data: steps, each with its branches; where a branch lands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

OUTCOMES = ("fixed", "contingency", "swap", "rover", "secure", "emergency", "supervisor")
VOTING = (
    "same-device",
    "emergency-bin",
    "paper-list",
    "other-unit",
    "moved",
    "stopped",
    "over",
)
LONGEST_WALK = 12


@dataclass(frozen=True)
class Branch:
    """An answer and where it leads; an empty `target_step` is the first step of that tree."""

    label: str
    target_tree: str
    target_step: str
    line: int = field(default=0, compare=False, repr=False)


@dataclass(frozen=True)
class Step:
    """One step; `kind` is "question", "fix" or "end".

    `minutes` and `chance` (the author's prior that it cures the fault once a walk gets here)
    belong to a fix; `outcome`, `voting` and `effect` to an end. `line` is the heading's.
    """

    id: str
    kind: str
    heading: str
    help_html: str = ""
    help_text: str = ""
    branches: tuple[Branch, ...] = ()
    minutes: float | None = None
    chance: float | None = None
    outcome: str | None = None
    voting: str | None = None
    effect: str | None = None
    line: int = field(default=0, compare=False)


@dataclass(frozen=True)
class Tree:
    """One tree; `hash` is the SHA-256 (hex) of its file, kept with every walk.

    Its texts are those that hold under the county's answers when it was read; `unset` are the
    ids of local rules that it uses and nobody has answered.
    """

    slug: str
    title: str
    equipment: str
    phase: tuple[str, ...]
    phrases: tuple[str, ...]
    stop: str
    stop_es: str
    code: str | None
    local_rule: tuple[str, ...]
    intro_html: str
    intro_text: str
    steps: Mapping[str, Step]
    first: str
    where: str
    text: str
    hash: str
    reviewed: date | None
    sources: tuple[str, ...]
    unset: tuple[str, ...] = ()
    lines: Mapping[str, int] = field(default_factory=dict, compare=False, repr=False)
