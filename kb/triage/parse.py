"""A tree's file becomes a Tree: each level-2 heading a step, each link under it a branch."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import PurePosixPath

from markdown_it.token import Token

from kb.base.errors import Problem
from kb.base.ids import fingerprint
from kb.library.article import Library, TreeSource
from kb.library.check_body import marks
from kb.library.front import Front, TreeFields, read_front, required
from kb.library.markdown import ATTRIBUTES, parse, plain, walk
from kb.library.render import html_of, page_of
from kb.library.rules import apply, is_conditional, used
from kb.library.text import NO_ANSWERS, Part, split
from kb.library.vocabulary import PHASES
from kb.triage.parse_step import Reading, divide, parse_step
from kb.triage.tree import Step, Tree

_REQUIRED = ("title", "equipment", "phase", "phrases", "stop", "reviewed", "sources")


def parse_tree(
    text: str,
    where: str,
    url_for: Callable[[str], str] = page_of,
    answers: Mapping[str, bool] = NO_ANSWERS,
) -> tuple[Tree | None, list[Problem]]:
    """Read one tree; `where` is its path as shown, and its last part names the slug.

    The tree is None where the front matter cannot be read, or no step has an id. All faults
    that show in this file alone are told. Links in its texts go to `url_for(slug)`; text under a
    local rule is there only where the county's answer is "yes".
    """
    front, problems = read_front(text, where, TreeFields)
    if front is None:
        return None, problems
    problems += required(front, where, _REQUIRED)
    tokens = parse(text)
    reading = Reading(PurePosixPath(where).stem, url_for)
    reading.faults += marks(tokens, text, ATTRIBUTES, unread="LB401")
    reading.faults += _strays(tokens)
    unset = tuple(rule for rule in used(tokens) if rule not in answers)
    intro, *parts = split(apply(tokens, answers))
    steps = _steps(parts, reading)
    if not parts:
        reading.tell(1, "LB420", "there is no step; write one as '## Is the paper roll empty?'")
    problems += [Problem(where, line, code, said, "body") for line, code, said in reading.faults]
    if not steps:
        return None, problems
    source = TreeSource(reading.tree, text, where)
    tree = _tree(front, source, intro, steps, url_for)
    return dataclasses.replace(tree, unset=unset), problems


def read_trees(
    library: Library,
    url_for: Callable[[str], str] = page_of,
    answers: Mapping[str, bool] = NO_ANSWERS,
) -> tuple[dict[str, Tree], list[Problem]]:
    """Read all trees of a library, as far as they can be read, with their faults."""
    trees: dict[str, Tree] = {}
    problems: list[Problem] = []
    for source in library.trees.values():
        tree, faults = parse_tree(source.text, source.where, url_for, answers)
        problems += faults
        if tree is not None:
            trees[tree.slug] = tree
    return trees, problems


def _strays(tokens: Sequence[Token]) -> Iterator[tuple[int, str, str]]:
    """Find attributes that stand on anything but a step's heading, and answers under a rule."""
    for part in split(tokens):
        for line, token in walk(divide(part)[1]):
            if is_conditional(token):
                yield line, "LB419", "an answer always shows; ask 'Did the office agree …?' instead"
    for line, token in walk(tokens):
        marked = any(name in token.attrs for name in ("id", "class", "rule"))
        if marked and not is_conditional(token) and token.tag != "h2":
            yield line, "LB403", "attributes stand on the line above a step's heading only"


def _steps(parts: Sequence[Part], reading: Reading) -> dict[str, Step]:
    steps: dict[str, Step] = {}
    for part in parts:
        step = parse_step(part, reading)
        if step.id in steps:
            message = f"the id '{step.id}' is that of line {steps[step.id].line} too; change one"
            reading.tell(part.line, "LB402", message)
        elif step.id:
            steps[step.id] = step
    return steps


def _tree(
    front: Front[TreeFields],
    source: TreeSource,
    intro: Part,
    steps: dict[str, Step],
    url_for: Callable[[str], str],
) -> Tree:
    fields = front.fields
    return Tree(
        slug=source.slug,
        title=fields.title,
        equipment=fields.equipment,
        phase=tuple(one for one in fields.phase if one in PHASES),
        phrases=fields.phrases,
        stop=fields.stop,
        stop_es=fields.stop_es,
        code=fields.code or None,
        local_rule=fields.local_rule,
        intro_text=plain(intro.tokens),
        intro_html=html_of(intro.tokens, url_for).strip(),
        steps=steps,
        first=next(iter(steps)),
        where=source.where,
        text=source.text,
        hash=fingerprint(source.text),
        reviewed=fields.reviewed,
        sources=fields.sources,
        lines=front.lines,
    )
