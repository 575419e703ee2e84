"""Local rules: text that holds only where a county has answered a question with "yes".

The strictest choice is the silent one: while a question is unanswered or answered "no", the
text under it is left out wherever the article is shown, searched or read out, and the page
says which answers are missing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from markdown_it.token import Token
from pydantic import Field

from kb.base.errors import Problem
from kb.library.fields import Fields, Text, problem, validate
from kb.library.markdown import classes, end_of, inline_text, walk
from kb.library.yamlfile import read_yaml

CODE = "LB302"
_EMPTIED = {"list_item_open", "paragraph_open", "bullet_list_open", "ordered_list_open"}


@dataclass(frozen=True)
class Rules:
    """The questions of local-rules.yaml by their ids; the answers are the county's own.

    `about` says what a question is about, "" where the file does not tell.
    """

    questions: Mapping[str, str] = field(default_factory=dict)
    about: Mapping[str, str] = field(default_factory=dict)

    def groups(self) -> dict[str, list[str]]:
        """The ids by what they are about, in the order of the file."""
        found: dict[str, list[str]] = {}
        for rule in self.questions:
            found.setdefault(self.about.get(rule, ""), []).append(rule)
        return found


class _Rule(Fields):
    id: Text = Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")
    question: Text = Field(pattern=r"\?$")
    about: Text = ""


class _Rules(Fields):
    rules: list[_Rule] = Field(default_factory=list)


def parse_rules(text: str, where: str) -> tuple[Rules, list[Problem]]:
    """Read local-rules.yaml. What is at fault is told in the problems and left out."""
    source = read_yaml(text)
    problems = [Problem(where, line, CODE, message) for line, _, message in source.faults]
    model, faults = validate(_Rules, source.value)
    for path, _, message in faults:
        hint = "small letters joined by hyphens" if path.endswith("id") else "ends with '?'"
        shown = f"{hint}: {message}" if "pattern" in message else message
        problems.append(problem(where, source.lines, path, CODE, shown))
    ids = sorted((rule.id, index) for index, rule in enumerate(model.rules))
    for (before, _), (after, index) in pairwise(ids):
        if before == after:
            message = f"'{after}' stands twice; keep one"
            problems.append(problem(where, source.lines, f"rules.{index}", CODE, message))
    questions = {rule.id: rule.question for rule in model.rules}
    return Rules(questions, {rule.id: rule.about for rule in model.rules}), problems


def is_conditional(token: Token) -> bool:
    """Whether the element that this token opens holds only under a rule."""
    return "if" in classes(token)


def rule_of(token: Token) -> str:
    """Return the rule's id, or "" where the author forgot it (such text never shows)."""
    return str(token.attrs.get("rule", ""))


def used(tokens: Sequence[Token]) -> tuple[str, ...]:
    """Ids of the rules that the text stands under, in the order of the text, each once."""
    found = (rule_of(token) for _, token in walk(tokens) if is_conditional(token))
    return tuple(dict.fromkeys(rule for rule in found if rule))


def apply(tokens: Sequence[Token], answers: Mapping[str, bool]) -> list[Token]:
    """Return the tokens that hold under the answers, without the marks themselves.

    An item, paragraph or list that is left empty goes too, so the numbers of a list stay
    right. The given tokens are changed (inline content) and should not be used again.
    """
    return _without_empty(_holding(tokens, answers))


def _holding(tokens: Sequence[Token], answers: Mapping[str, bool]) -> list[Token]:
    kept: list[Token] = []
    index = 0
    while index < len(tokens):
        token = tokens[index]
        if is_conditional(token) and answers.get(rule_of(token)) is not True:
            index = end_of(tokens, index)
            continue
        if is_conditional(token):
            token.attrs["class"] = " ".join(name for name in classes(token) if name != "if")
        if token.children:
            token.children = _holding(token.children, answers)
        kept.append(token)
        index += 1
    return kept


def _without_empty(tokens: Sequence[Token]) -> list[Token]:
    kept: list[Token] = []
    for token in tokens:
        if token.type == "inline" and _is_blank(token.children or ()):
            continue
        if token.nesting == -1 and kept and kept[-1].nesting == 1 and kept[-1].type in _EMPTIED:
            kept.pop()
            continue
        kept.append(token)
    return kept


def _is_blank(tokens: Sequence[Token]) -> bool:
    """Whether nothing readable is left; a full stop outside the brackets is not."""
    return not any(letter.isalnum() for letter in inline_text(tokens))
