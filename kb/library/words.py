"""The words of the phone: equipment classes, what means the same, Spanish, filler.

`words.yaml` is read at query time, so that a county can teach the search a new word without
touching an article.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise

from pydantic import Field, model_validator

from kb.base.errors import Problem
from kb.library.fields import Fields, Text, Texts, problem, validate
from kb.library.yamlfile import read_yaml

CODE = "LB301"


@dataclass(frozen=True)
class Equipment:
    """A class of equipment: its id, its name, and other names people use."""

    id: str
    name: str
    other: tuple[str, ...] = ()


@dataclass(frozen=True)
class Same:
    """Who says one of `said` may mean any of `means`; a group of equals has both the same."""

    said: tuple[str, ...]
    means: tuple[str, ...]


@dataclass(frozen=True)
class Words:
    """All of words.yaml."""

    equipment: tuple[Equipment, ...] = ()
    same: tuple[Same, ...] = ()
    spanish: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    stop: tuple[str, ...] = ()
    elsewhere: tuple[str, ...] = ()

    def name(self, equipment: str) -> str:
        """Return the name of an equipment class, or the id itself where it is not listed."""
        return next((one.name for one in self.equipment if one.id == equipment), equipment)


class _Equipment(Fields):
    id: Text = Field(min_length=1)
    name: Text = Field(min_length=1)
    other: Texts = ()


class _Same(Fields):
    """Either `words` (both directions) or `from` and `to` (one)."""

    words: Texts = ()
    from_: Texts = Field((), alias="from")
    to: Texts = ()

    @model_validator(mode="after")
    def _one_form(self) -> _Same:
        if bool(self.words) == bool(self.from_ or self.to) or bool(self.from_) != bool(self.to):
            raise ValueError("write either {words: [...]} or {from: [...], to: [...]}")
        return self


class _Words(Fields):
    equipment: list[_Equipment] = Field(default_factory=list)
    same: list[_Same] = Field(default_factory=list)
    spanish: dict[str, Texts] = Field(default_factory=dict)
    stop: Texts = ()
    elsewhere: Texts = ()


def parse_words(text: str, where: str) -> tuple[Words, list[Problem]]:
    """Read words.yaml. What is at fault is left out of the words and told in the problems."""
    source = read_yaml(text)
    problems = [Problem(where, line, CODE, message) for line, _, message in source.faults]
    model, faults = validate(_Words, source.value)
    problems += [problem(where, source.lines, path, CODE, text) for path, _, text in faults]
    ids = sorted((one.id, i) for i, one in enumerate(model.equipment))
    for (before, _), (after, index) in pairwise(ids):
        if before == after:
            path = f"equipment.{index}"
            problems.append(
                problem(where, source.lines, path, CODE, f"'{after}' stands twice; keep one")
            )
    return _words(model), problems


def _words(model: _Words) -> Words:
    return Words(
        equipment=tuple(Equipment(one.id, one.name, one.other) for one in model.equipment),
        same=tuple(Same(one.words or one.from_, one.words or one.to) for one in model.same),
        spanish=model.spanish,
        stop=model.stop,
        elsewhere=model.elsewhere,
    )
