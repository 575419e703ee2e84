"""Plain text of an article: its sections for search, its first step for the results list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from markdown_it.token import Token

from kb.library.article import STEP_SECTIONS, Article
from kb.library.markdown import children, end_of, inline_text, parse, plain
from kb.library.rules import apply

NO_ANSWERS: Mapping[str, bool] = MappingProxyType({})
# No question: what is seen is told, and a title in italics may end in "?".
_SENTENCE_ENDS = (".", "!", "…")


class Part(NamedTuple):
    """A level-2 heading as text and token, its line, and the tokens that stand under it."""

    heading: str
    line: int
    tokens: list[Token]
    opening: Token | None = None


def split(tokens: Sequence[Token]) -> list[Part]:
    """Split block tokens at the level-2 headings.

    What stands before the first heading comes first, under "".
    """
    parts = [Part("", 1, [])]
    for element in children(tokens):
        first = element[0]
        if first.type == "heading_open" and first.tag == "h2":
            line = first.map[0] + 1 if first.map else 1
            parts.append(Part(plain(element), line, [], first))
        elif first.type != "front_matter":
            parts[-1].tokens.extend(element)
    return parts


def sections(article: Article, answers: Mapping[str, bool] = NO_ANSWERS) -> dict[str, str]:
    """Plain text of the sections by heading, in order; the lead lines stand under "".

    Text under a rule that is unanswered or "no" is left out.
    """
    found: dict[str, str] = {}
    for part in split(apply(parse(article.body), answers)):
        text = plain(part.tokens)
        found[part.heading] = "\n".join(filter(None, (found.get(part.heading), text)))
    return found


def first_step(article: Article, answers: Mapping[str, bool] = NO_ANSWERS) -> str:
    """Return the first step that holds under the answers, without what should be seen; or ""."""
    return next(iter(steps(article, answers)), "")


def steps(article: Article, answers: Mapping[str, bool] = NO_ANSWERS) -> list[str]:
    """Return the steps that hold under the answers, in order, without what should be seen."""
    parts = split(apply(parse(article.body), answers))
    named = [part for part in parts if part.heading in STEP_SECTIONS]
    # A translation has its own headings: there the first numbered list is the steps.
    for part in named or parts:
        for element in children(part.tokens):
            if element[0].type == "ordered_list_open":
                return [_action(item) for item in children(element[1:-1])]
    return []


def is_seen(tokens: Sequence[Token], start: int) -> bool:
    """Whether the emphasis that opens at `start` is what should be seen: a whole sentence.

    A title in italics ("go to *box full*.") has its full stop outside.
    """
    text = inline_text(tokens[start : end_of(tokens, start)])
    return tokens[start].type == "em_open" and text.endswith(_SENTENCE_ENDS)


def _action(item: Sequence[Token]) -> str:
    """Text of a step's first paragraph without what should be seen."""
    tokens = next((token.children or [] for token in item if token.type == "inline"), [])
    kept: list[Token] = []
    index = 0
    while index < len(tokens):
        end = end_of(tokens, index) if is_seen(tokens, index) else index + 1
        if end == index + 1:
            kept.append(tokens[index])
        index = end
    return inline_text(kept)
