"""Front matter of articles and trees: found, read, typed, every fault with its line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Generic

from pydantic import BeforeValidator

from kb.base.errors import Problem
from kb.library.fields import (
    Code,
    Day,
    Fields,
    Model,
    Number,
    Text,
    Texts,
    one_of,
    problem,
    unknown,
    validate,
)
from kb.library.markdown import parse
from kb.library.vocabulary import EFFECTS, KINDS, PHASES, RECORDS, SYMPTOMS
from kb.library.yamlfile import read_yaml

_CODES = {
    "syntax": "LB102",
    "duplicate": "LB103",
    "unknown": "LB104",
    "shape": "LB106",
    "id": "LB107",
}

Kind = Annotated[str, BeforeValidator(one_of(KINDS))]
Effect = Annotated[str, BeforeValidator(one_of(EFFECTS))]
Symptom = Annotated[str, BeforeValidator(one_of(SYMPTOMS))]


class ArticleFields(Fields):
    """The fields of an article; every one has a default, what a kind needs is told apart."""

    title: Text = ""
    kind: Kind = "fault"
    equipment: Text = ""
    phase: Texts = ()
    symptom: Symptom = ""
    phrases: Texts = ()
    stop: Text = ""
    stop_es: Text = ""
    code: Code = ""
    record: Texts = ()
    effect: Effect = ""
    local_rule: Texts = ()
    tree: Text = ""
    minutes: Number = None
    see_also: Texts = ()
    sources: Texts = ()
    reviewed: Day = None
    language: Text = "en"
    translates: Text = ""
    redirect: Text = ""


class TreeFields(Fields):
    """The fields of a tree."""

    title: Text = ""
    equipment: Text = ""
    phase: Texts = ()
    phrases: Texts = ()
    stop: Text = ""
    stop_es: Text = ""
    code: Code = ""
    local_rule: Texts = ()
    reviewed: Day = None
    sources: Texts = ()


@dataclass(frozen=True)
class Front(Generic[Model]):
    """Front matter as read: the typed fields, their lines, and the names that were given."""

    fields: Model
    lines: Mapping[str, int]
    given: frozenset[str]
    body: str


# Lists of ids: told by item, where a typed field could only tell of the list.
_LISTS = {"phase": PHASES, "record": RECORDS}


def read_front(
    text: str, where: str, model: type[Model]
) -> tuple[Front[Model] | None, list[Problem]]:
    """Read the front matter of a file; None only where there is none that can be read.

    A field at fault keeps its default in the result, so that the rest of the file can be
    checked in the same run.
    """
    tokens = parse(text) if text.startswith("---") else []
    if not tokens or tokens[0].type != "front_matter" or tokens[0].map is None:
        message = "begin the file with '---', its fields, and '---' on a line of its own"
        return None, [Problem(where, 1, "LB101", message)]
    end = tokens[0].map[1]
    source = read_yaml(tokens[0].content, first_line=2)
    problems = [Problem(where, line, _CODES[kind], said) for line, kind, said in source.faults]
    if not source.value:
        if not problems:
            problems.append(Problem(where, 1, "LB102", "there are no fields; write the title"))
        return None, problems
    fields, faults = validate(model, source.value)
    problems += [
        problem(where, source.lines, path, _CODES[kind], said) for path, kind, said in faults
    ]
    for name, allowed in _LISTS.items():
        for index, item in enumerate(getattr(fields, name, ())):
            if item not in allowed:
                path = f"{name}.{index}"
                said = unknown(item, allowed)
                problems.append(problem(where, source.lines, path, "LB107", said))
    given = frozenset(name for name, value in source.value.items() if value)
    lines = source.lines | {"body": end + 1}
    return Front(fields, lines, given, "\n".join(text.split("\n")[end:])), problems


def required(front: Front[Model], where: str, names: tuple[str, ...]) -> list[Problem]:
    """Tell of the fields that are missing or empty."""
    return [
        problem(where, front.lines, name, "LB105", "this field is missing; fill it in")
        for name in names
        if name not in front.given
    ]
