"""Which texts of the library stand under which local rule, word for word.

Counsel sees what a "yes" lets through, and a test that it is nowhere to be seen without one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from markdown_it.token import Token

from kb.library.article import Library
from kb.library.markdown import end_of, inline_text, parse, plain
from kb.library.rules import is_conditional, rule_of


@dataclass(frozen=True)
class Use:
    """An article or tree with text under a rule, and each such passage as plain text."""

    slug: str
    is_tree: bool
    passages: tuple[str, ...]


def uses(library: Library) -> dict[str, list[Use]]:
    """Articles and trees by the rule under which some of their text stands, by slug."""
    articles = {slug: one.body for slug, one in library.articles.items() if one.redirect is None}
    found: dict[str, list[Use]] = {}
    for is_tree, texts in ((False, articles), (True, _trees(library))):
        for slug, text in sorted(texts.items()):
            for rule, held in _by_rule(text).items():
                found.setdefault(rule, []).append(Use(slug, is_tree, tuple(held)))
    return found


@lru_cache(maxsize=1024)
def passages(text: str) -> tuple[tuple[str, str], ...]:
    """The passages of a Markdown text that stand under a rule, as (rule, plain text).

    A passage within another is told by itself as well.
    """
    return tuple(_passages(parse(text))) if "rule=" in text else ()


def _passages(tokens: Sequence[Token]) -> Iterator[tuple[str, str]]:
    for index, token in enumerate(tokens):
        if is_conditional(token) and token.nesting >= 0:
            element = tokens[index : end_of(tokens, index)]
            text = plain(element) if token.block else inline_text(element)
            yield rule_of(token), text
        yield from _passages(token.children or ())


def _by_rule(text: str) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for rule, held in passages(text):
        found.setdefault(rule, []).append(held)
    return found


def _trees(library: Library) -> Mapping[str, str]:
    return {slug: one.text for slug, one in library.trees.items()}
