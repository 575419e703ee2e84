"""Markdown becomes HTML for a page that brings its own level-1 heading.

No inline script or style, no raw HTML; the stop line is not in the text, since every page
shows it first and in its own way.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from markdown_it.token import Token

from kb.library.article import STEP_SECTIONS, Article
from kb.library.links import target
from kb.library.markdown import inline_text, parse, to_html
from kb.library.rules import apply, used
from kb.library.text import NO_ANSWERS, is_seen, split

# Attributes that the page may get from a text; the others are for the program.
_SHOWN = {"id", "class", "href", "src", "alt", "title", "start"}


@dataclass(frozen=True)
class Rendered:
    """HTML of a text, and the ids of the rules it uses that nobody has answered."""

    html: str
    unset: tuple[str, ...]


def page_of(slug: str) -> str:
    """Return the address of an article's or tree's page, where no other is asked for."""
    return f"/library/{slug}"


def render(
    article: Article,
    answers: Mapping[str, bool] = NO_ANSWERS,
    url_for: Callable[[str], str] = page_of,
    prefix: str = "",
) -> Rendered:
    """Render an article's text under the county's answers.

    Headings start at h2 and carry ids ("do-this", after `prefix`, for a page of many texts); what
    should be seen after a step is <em class="see">; links to other files go to `url_for(slug)`.
    """
    tokens = parse(article.body)
    unset = tuple(rule for rule in used(tokens) if rule not in answers)
    tokens = apply(tokens, answers)
    for part in split(tokens):
        if part.heading in STEP_SECTIONS or article.language != "en":
            _mark_seen(part.tokens)
    return Rendered(html_of(tokens, url_for, prefix), unset)


def html_of(
    tokens: Sequence[Token], url_for: Callable[[str], str] = page_of, prefix: str = ""
) -> str:
    """Render tokens to which the local rules have been applied."""
    set_headings(tokens, prefix)
    for token in tokens:
        for child in token.children or ():
            _set_link(child, url_for)
            _keep_shown(child)
        token.children = _unwrapped(token.children)
        _keep_shown(token)
    return to_html(tokens)


def set_headings(tokens: Sequence[Token], prefix: str = "") -> set[str]:
    """Give each heading its id, the author's or its words, and return all of them."""
    taken: set[str] = set()
    for index, token in enumerate(tokens):
        if token.type == "heading_open":
            text = inline_text(tokens[index + 1].children or ())
            _set_heading(token, text, taken, prefix)
        if token.type in {"heading_open", "heading_close"} and token.tag == "h1":
            token.tag = "h2"
    return taken


def _set_heading(token: Token, text: str, taken: set[str], prefix: str) -> None:
    words = "".join(letter if letter.isalnum() else " " for letter in text.lower()).split()
    base = prefix + (str(token.attrs.get("id", "")) or "-".join(words) or "part")
    name, number = base, 1
    while name in taken:
        number += 1
        name = f"{base}-{number}"
    taken.add(name)
    token.attrs["id"] = name


def _set_link(token: Token, url_for: Callable[[str], str]) -> None:
    if token.type != "link_open":
        return
    found = target(str(token.attrs.get("href", "")))
    if found is not None:
        part = f"#{found.step}" if found.step else ""
        token.attrs["href"] = url_for(found.slug) + part


def _mark_seen(tokens: Sequence[Token]) -> None:
    """Mark what should be seen in the items of the numbered list."""
    depth = 0
    for token in tokens:
        depth += token.nesting if token.tag == "ol" else 0
        inner = token.children or []
        for index, child in enumerate(inner):
            if depth and is_seen(inner, index):
                child.attrs["class"] = "see"


def _keep_shown(token: Token) -> None:
    token.attrs = {name: value for name, value in token.attrs.items() if name in _SHOWN and value}


def _unwrapped(tokens: list[Token] | None) -> list[Token] | None:
    """Take away spans: they only marked a text for the program."""
    if tokens is None:
        return None
    return [token for token in tokens if token.type not in {"span_open", "span_close"}]
