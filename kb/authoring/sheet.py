"""A county's answers to the local-rule questions for one election, as data and as a file.

The file is YAML of our own:

    election: fall                  # the election's id
    answers:
      restart-scanner: yes          # yes or no; a question left out or empty is not answered
    notes:
      restart-scanner: County procedure 4.2
    words:
      rover: {one: field technician, many: field technicians}
    signed: {by: Dana Quill, office: County counsel, date: 2026-10-01}

What is written is always laid out alike, so its SHA-256 names a sheet inside and outside the
program.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Annotated, TypeAlias

import yaml
from pydantic import BeforeValidator, Field
from yaml.nodes import MappingNode, Node, ScalarNode

from kb.base.errors import Problem
from kb.base.ids import fingerprint
from kb.library.fields import Day, Fields, Text, one_of, problem, unknown, validate
from kb.library.ownwords import TERMS, OwnWord, OwnWords
from kb.library.rules import Rules
from kb.library.yamlfile import Yaml, read_yaml

CODE = "WS101"
ANSWERS = {"yes": True, "no": False}
LONGEST_NOTE = 500
_Value: TypeAlias = "str | Mapping[str, _Value]"
_WORD = r"^[^\W\d_][^\W_]*(?:[ '’-][^\W_]+)*$"


@dataclass(frozen=True)
class Signature:
    """Who signed a sheet, in which office, and on which day."""

    by: str
    office: str
    date: date


@dataclass(frozen=True)
class Sheet:
    """Answers and notes by question, own words by the library's term; `signed` may be missing."""

    election: str
    answers: Mapping[str, bool] = field(default_factory=dict)
    notes: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, OwnWord] = field(default_factory=dict)
    signed: Signature | None = None

    @property
    def hash(self) -> str:
        """The SHA-256 (hex) of the sheet's file."""
        return fingerprint(sheet_yaml(self))

    @property
    def own_words(self) -> OwnWords:
        """The own words, ready to be put into texts."""
        return OwnWords(self.words)

    def missing(self, rules: Rules) -> list[str]:
        """The questions that have no answer, in the order of the worksheet."""
        return [rule for rule in rules.questions if rule not in self.answers]


def _mapping(value: object) -> object:
    return {} if value == "" else value


def _answers(value: object) -> object:
    """Drop what is not answered."""
    if not isinstance(value, dict):
        return _mapping(value)
    return {name: answer for name, answer in value.items() if answer != ""}


def _many(value: object) -> object:
    """Where only the word for one is given, several are that and an s."""
    if isinstance(value, dict) and isinstance(value.get("one"), str) and not value.get("many"):
        return value | {"many": f"{value['one'].strip()}s"}
    return value


_Word = Annotated[Text, Field(pattern=_WORD, max_length=40)]


class _Own(Fields):
    one: _Word
    many: _Word


class _Signed(Fields):
    by: Text = Field(min_length=1, max_length=120)
    office: Text = Field(min_length=1, max_length=120)
    date: Day


class _Sheet(Fields):
    election: Text = ""
    answers: Annotated[
        dict[str, Annotated[str, BeforeValidator(one_of(tuple(ANSWERS)))]],
        BeforeValidator(_answers),
    ] = Field(default_factory=dict)
    notes: Annotated[
        dict[str, Annotated[Text, Field(max_length=LONGEST_NOTE)]], BeforeValidator(_mapping)
    ] = Field(default_factory=dict)
    words: Annotated[
        dict[str, Annotated[_Own, BeforeValidator(_many)]], BeforeValidator(_mapping)
    ] = Field(default_factory=dict)
    signed: _Signed | None = None


def parse_sheet(
    text: str, where: str, questions: Collection[str] | None = None
) -> tuple[Sheet | None, list[Problem]]:
    """Read a sheet's file; None with any problem, and all of them are told.

    `questions` are the ids that may be answered; without them any may, as in a sheet that was
    kept from an older library.
    """
    source = read_yaml(text)
    problems = [Problem(where, line, CODE, message) for line, _, message in source.faults]
    model, faults = validate(_Sheet, source.value)
    for path, _, message in faults:
        problems.append(problem(where, source.lines, path, CODE, _plain(path, message)))
    if not any(kind == "syntax" for _, kind, _ in source.faults) and not model.election:
        problems.append(Problem(where, 1, CODE, "election: write the election's id"))
    problems += _unknown(source, where, questions)
    if model.signed and model.signed.date is None:
        problems.append(problem(where, source.lines, "signed.date", CODE, "write the day"))
    problems += [
        problem(where, source.lines, path, CODE, message) for path, message in _same(model)
    ]
    return (None, problems) if problems else (_sheet(model), [])


def sheet_yaml(sheet: Sheet, rules: Rules | None = None) -> str:
    """Write a sheet's file; with `rules`, each question stands above its answer, to be filled in.

    Without them the text is the one that the sheet's hash is of.
    """
    parts: dict[str, _Value] = {}
    if sheet.notes:
        parts["notes"] = sheet.notes
    if sheet.words:
        parts["words"] = {
            term: {"one": own.one, "many": own.many} for term, own in sheet.words.items()
        }
    if signed := sheet.signed:
        day = signed.date.isoformat()
        parts["signed"] = {"by": signed.by, "office": signed.office, "date": day}
    head = _written({"election": sheet.election}) + "".join(_answer_lines(sheet, rules))
    return head + (_written(parts) if parts else "")


def _answer_lines(sheet: Sheet, rules: Rules | None) -> Iterator[str]:
    yield "answers:\n"
    said = {rule: "yes" if answer else "no" for rule, answer in sheet.answers.items()}
    for group, ids in rules.groups().items() if rules else ():
        yield f"  # {group.upper()}\n" if group else ""
        for rule in ids:
            yield f"  # {rules.questions[rule] if rules else ''}\n"
            yield f"  {rule}: {said.pop(rule, '')}".rstrip() + "\n"
    for rule, answer in sorted(said.items()):
        yield f"  {rule}: {answer}\n"


def _written(value: Mapping[str, _Value]) -> str:
    """YAML of texts, each as plain as it can be: a reader of bare texts takes no `yes` for true."""
    return str(
        yaml.serialize(_node(value), Dumper=yaml.BaseDumper, allow_unicode=True, width=1_000)
    )


def _node(value: _Value, depth: int = 0) -> Node:
    if isinstance(value, str):
        return ScalarNode("tag:yaml.org,2002:str", value)
    order = sorted(value) if depth else [*value]
    pairs = [(_node(name), _node(value[name], depth + 1)) for name in order]
    return MappingNode("tag:yaml.org,2002:map", pairs, flow_style=depth > 1)


def _sheet(model: _Sheet) -> Sheet:
    signed = model.signed
    return Sheet(
        election=model.election,
        answers={rule: ANSWERS[answer] for rule, answer in model.answers.items()},
        notes={rule: note for rule, note in model.notes.items() if note},
        words={term: OwnWord(own.one, own.many) for term, own in model.words.items()},
        signed=Signature(signed.by, signed.office, signed.date) if signed and signed.date else None,
    )


def _unknown(source: Yaml, where: str, questions: Collection[str] | None) -> Iterator[Problem]:
    lists = {"words": tuple(TERMS)}
    if questions is not None:
        lists |= {"answers": tuple(questions), "notes": tuple(questions)}
    for part, known in lists.items():
        given = source.value.get(part)
        for name in given if isinstance(given, dict) else ():
            if name not in known:
                message = unknown(name, known)
                yield problem(where, source.lines, f"{part}.{name}", CODE, message)


def _same(model: _Sheet) -> Iterator[tuple[str, str]]:
    """Find a word that two terms have: nobody could tell them apart."""
    taken: dict[str, str] = {}
    for term, own in model.words.items():
        for word in {own.one.lower(), own.many.lower()}:
            other = taken.setdefault(word, term)
            if other != term:
                yield f"words.{term}", f"'{word}' is the word for '{other}' already; take another"


def _plain(path: str, message: str) -> str:
    part = path.partition(".")[2].replace(".", ", ")
    if "pattern" in message:
        message = "write words of letters, with single spaces, hyphens or apostrophes between"
    elif "valid dictionary" in message:
        message = "write fields under it, each as 'name: value'"
    return f"{part}: {message}" if part else message
