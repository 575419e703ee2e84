"""One level-2 heading of a tree's file becomes a step."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import chain

from markdown_it.token import Token

from kb.library.fields import unknown
from kb.library.links import target
from kb.library.markdown import children, classes, inline_text, plain
from kb.library.render import html_of
from kb.library.text import Part
from kb.library.vocabulary import EFFECTS
from kb.triage.tree import OUTCOMES, VOTING, Branch, Step

_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_ATTRIBUTES = {
    "question": set(),
    "fix": {"minutes", "chance"},
    "end": {"outcome", "voting", "effect"},
}
Element = Sequence[Token]


@dataclass
class Reading:
    """What is noted while a tree is read: (line, code, message)."""

    tree: str
    url_for: Callable[[str], str]
    faults: list[tuple[int, str, str]] = field(default_factory=list)

    def tell(self, line: int, code: str, message: str) -> None:
        """Note a fault."""
        self.faults.append((line, code, message))


def parse_step(part: Part, reading: Reading) -> Step:
    """Read one step; faults go to `reading`."""
    opening = part.opening or Token("heading_open", "h2", 1)
    given = {name: str(value) for name, value in opening.attrs.items()}
    kind = _kind(opening, part.line, reading)
    extra = {*given, *opening.meta.get("insecure_attrs", {})} - {"id", "class"} - _ATTRIBUTES[kind]
    for name in sorted(extra):
        reading.tell(part.line, "LB403", f"a {kind} has no '{name}'; take it away")
    identity = given.get("id", "")
    if not _ID.fullmatch(identity):
        message = "give the step an id on a line above its heading, such as {#paper-side}"
        reading.tell(part.line, "LB402", message)
    before, branches, after = divide(part)
    help_tokens = [*before, *after]
    # An attribute line that could not be read stands here as text; it is told as such.
    if branches and kind != "end" and after and not plain(after).startswith("{"):
        reading.tell(part.line, "LB416", "move the text after the answers to before them")
    step = Step(
        id=identity,
        kind=kind,
        heading=part.heading,
        help_text=plain(help_tokens),
        help_html=html_of(help_tokens, reading.url_for).strip(),
        branches=_branches(branches, part.line, reading),
        minutes=_number(given, "minutes", math.inf, part.line, reading),
        chance=_number(given, "chance", 1, part.line, reading),
        outcome=given.get("outcome"),
        voting=given.get("voting"),
        effect=given.get("effect"),
        line=part.line,
    )
    _check_kind(step, reading)
    return step


def divide(part: Part) -> tuple[list[Token], Element, list[Token]]:
    """Split what stands under a heading: text before the branches, the branches, text after.

    The branches are the last list in which a link stands alone as an item.
    """
    elements = list(children(part.tokens))
    lists = [i for i, one in enumerate(elements) if any(map(_link, _items(one)))]
    if not lists:
        return list(part.tokens), (), []
    before, after = elements[: lists[-1]], elements[lists[-1] + 1 :]
    return list(chain(*before)), elements[lists[-1]], list(chain(*after))


def _items(element: Element) -> list[Element]:
    if element[0].type not in {"bullet_list_open", "ordered_list_open"}:
        return []
    return list(children(element[1:-1]))


def _link(item: Element) -> tuple[str, str] | None:
    """Label and address of an item that is a link and nothing else."""
    inline = [token for token in item if token.type == "inline"]
    tokens = inline[0].children or [] if len(inline) == 1 else []
    if not tokens or tokens[0].type != "link_open" or tokens[-1].type != "link_close":
        return None
    if sum(token.type == "link_open" for token in tokens) > 1:
        return None
    label = inline_text(tokens)
    return (label, str(tokens[0].attrs.get("href", ""))) if label else None


def _kind(opening: Token, line: int, reading: Reading) -> str:
    named = classes(opening)
    if not named:
        return "question"
    if len(named) > 1 or named[0] not in {"fix", "end"}:
        message = f"'{' '.join(named)}' is no kind of step; write .fix, .end or neither"
        reading.tell(line, "LB403", message)
        return "question"
    return named[0]


def _number(
    given: dict[str, str], name: str, most: float, line: int, reading: Reading
) -> float | None:
    if name not in given:
        return None
    try:
        number = float(given[name])
    except ValueError:
        number = math.nan
    if 0 <= number <= most and (name == "chance" or 0 < number < math.inf):
        return number
    reading.tell(line, "LB404", f"{name}: '{given[name]}' is not a number in its range")
    return None


def _check_kind(step: Step, reading: Reading) -> None:
    if step.kind == "fix" and step.minutes is None:
        reading.tell(step.line, "LB404", "say how long it takes, as in {#load-roll .fix minutes=3}")
    if step.kind != "end":
        if len(step.branches) < 2:
            message = f"answers: {len(step.branches)}; give at least two, or make it an end"
            reading.tell(step.line, "LB412", message)
        return
    if step.branches:
        message = "an end leads nowhere; take the branches away, or the class .end"
        reading.tell(step.line, "LB411", message)
    if step.outcome not in OUTCOMES:
        message = f"the outcome {unknown(step.outcome or '', OUTCOMES)}"
        reading.tell(step.line, "LB405", message)
    if step.effect is not None and step.effect not in EFFECTS:
        reading.tell(step.line, "LB405", f"the effect {unknown(step.effect, EFFECTS)}")
    if step.voting not in VOTING:
        message = f"how voting goes on: {unknown(step.voting or '', VOTING)}"
        reading.tell(step.line, "LB406", message)


def _branches(branches: Element, at: int, reading: Reading) -> tuple[Branch, ...]:
    found: list[Branch] = []
    for item in _items(branches) if branches else ():
        line = item[0].map[0] + 1 if item[0].map else at
        link = _link(item)
        if link is None:
            message = "an answer is a link and nothing else, such as [Yes](#load-roll)"
            reading.tell(line, "LB416", message)
            continue
        label, href = link
        if label in {one.label for one in found}:
            reading.tell(line, "LB415", f"the answer '{label}' stands twice; word them apart")
        tree, step = _landing(href, reading, line)
        found.append(Branch(label, tree, step, line))
    return tuple(found)


def _landing(href: str, reading: Reading, line: int) -> tuple[str, str]:
    if href.startswith("#"):
        return reading.tree, href[1:]
    other = target(href)
    if other is None or other.path != f"{other.slug}.md":
        message = f"'{href}' is no step; write #step, other-tree.md or other-tree.md#step"
        reading.tell(line, "LB407", message)
        return "", ""
    return other.slug, other.step
