"""The one Markdown parser, and small readers of its tokens.

CommonMark with front matter and attributes, raw HTML off. Structure is always read from
tokens, never from the text by pattern, so that code, quotes and escapes mean what they mean
to every other Markdown program.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from markdown_it import MarkdownIt
from markdown_it.token import Token
from mdit_py_plugins.attrs import attrs_block_plugin, attrs_plugin
from mdit_py_plugins.front_matter import front_matter_plugin

# id, class and rule for articles; the others are a tree's steps.
ATTRIBUTES = ("id", "class", "rule", "minutes", "chance", "outcome", "voting", "effect")


def parser(*, html: bool = False) -> MarkdownIt:
    """Make a parser of the library's Markdown; `html` only to find what must not be there."""
    return (
        MarkdownIt("commonmark", {"html": html})
        .use(front_matter_plugin)
        .use(attrs_plugin, spans=True, allowed=ATTRIBUTES)
        .use(attrs_block_plugin, allowed=ATTRIBUTES)
    )


_PARSER = parser()
_HTML_PARSER = parser(html=True)


def parse(text: str) -> list[Token]:
    """Read a text into block tokens; `map` holds line numbers from 0."""
    return _PARSER.parse(text)


def to_html(tokens: Sequence[Token]) -> str:
    """HTML of tokens as they are."""
    return str(_PARSER.renderer.render(tokens, _PARSER.options, {}))


def raw_html_lines(text: str) -> list[int]:
    """Lines, from 1, at which raw HTML would begin if it were on."""
    found = []
    for line, token in walk(_HTML_PARSER.parse(text)):
        if token.type in {"html_block", "html_inline"}:
            found.append(line)
    return found


def walk(tokens: Iterable[Token]) -> Iterator[tuple[int, Token]]:
    """Every token with the line, from 1, on which it stands; inline content included."""
    line = 1
    for token in tokens:
        line = token.map[0] + 1 if token.map else line
        yield line, token
        inner = line
        for child in token.children or ():
            yield inner, child
            inner += child.type in {"softbreak", "hardbreak"}


def end_of(tokens: Sequence[Token], start: int) -> int:
    """Index just past the element that opens at `start`."""
    depth = 0
    for index in range(start, len(tokens)):
        depth += tokens[index].nesting
        if depth == 0:
            return index + 1
    return len(tokens)


def children(tokens: Sequence[Token]) -> Iterator[Sequence[Token]]:
    """Yield the elements that follow one another at the outermost level of `tokens`."""
    start = 0
    while start < len(tokens):
        end = end_of(tokens, start)
        yield tokens[start:end]
        start = end


def classes(token: Token) -> list[str]:
    """List the class names of a token."""
    return str(token.attrs.get("class", "")).split()


def inline_text(tokens: Iterable[Token]) -> str:
    """Plain text of inline tokens, in one line."""
    parts = []
    for token in tokens:
        if token.type in {"softbreak", "hardbreak"}:
            parts.append(" ")
        elif token.type in {"text", "code_inline", "image"}:
            parts.append(token.content)
    return " ".join("".join(parts).split())


def plain(tokens: Iterable[Token]) -> str:
    """Plain text of block tokens, a line for each paragraph, item or heading."""
    lines = []
    for token in tokens:
        if token.type == "inline":
            lines.append(inline_text(token.children or ()))
        elif token.type in {"fence", "code_block"}:
            lines.append(token.content.strip())
    return "\n".join(line for line in lines if line)
