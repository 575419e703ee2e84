"""The linter of an article's text: sections, steps, links, marks and local rules."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence

from markdown_it.token import Token

from kb.base.errors import Problem
from kb.library.article import SECTIONS, STEP_SECTIONS, Article, Library
from kb.library.check_rules import declared_at, local_rules
from kb.library.codes import WARNINGS
from kb.library.fields import unknown
from kb.library.grade import HIGHEST_GRADE, grade
from kb.library.links import target
from kb.library.markdown import children, inline_text, parse, raw_html_lines, walk
from kb.library.render import set_headings
from kb.library.rules import apply
from kb.library.text import Part, is_seen, sections, split

# Attributes that Markdown itself sets, and those an author may.
_MARKDOWN = {"href", "src", "alt", "title", "start"}
_AUTHOR = {"id", "class", "rule"}
_NUMBERED = re.compile(r"\bsteps?\s+\d", re.IGNORECASE)

Finding = tuple[int, str, str]


def check(article: Article, library: Library) -> list[Problem]:
    """Check one article's text; lines are those of the file."""
    tokens = parse(article.body)
    parts = split(tokens)
    offset = article.line("body") - 1
    declared = declared_at(article.local_rule, article.lines, offset)
    findings = [
        *marks(tokens, article.body, _AUTHOR),
        *links(tokens, article.where, files_of(library)),
        *_sections(article, parts, library),
        *_steps(parts),
        *_numbers_named(article, tokens),
        *_parts_named(article, tokens, library),
        *_readable(article),
        *local_rules(declared, tokens, library.rules),
    ]
    return [
        Problem(article.where, offset + line, code, message, "body", code in WARNINGS)
        for line, code, message in findings
    ]


def files_of(library: Library) -> dict[str, str]:
    """Map every slug of the library to its file."""
    files = {slug: article.where for slug, article in library.articles.items()}
    return files | {slug: tree.where for slug, tree in library.trees.items()}


def marks(
    tokens: Sequence[Token], text: str, allowed: Iterable[str], unread: str = "LB209"
) -> Iterator[Finding]:
    """LB207 to LB209 of any Markdown of the library, lines counted from 1 in `text`.

    `unread` is the code for braces that are not read as attributes.
    """
    for line in raw_html_lines(text):
        yield line, "LB208", "this would be raw HTML; write it in Markdown"
    for line, token in walk(tokens):
        if token.type == "heading_open" and token.tag == "h1":
            yield line, "LB207", "the title stands in the front matter; begin headings with '##'"
        if token.type == "text" and "{" in token.content:
            message = "this brace is not read as an attribute; see how it is written, and quoted"
            yield line, unread, message
        given = {*token.attrs, *token.meta.get("insecure_attrs", {})}
        for name in sorted(given - _MARKDOWN - set(allowed)):
            yield line, "LB209", f"the attribute '{name}' is not used here; take it away"


def links(tokens: Sequence[Token], where: str, files: Mapping[str, str]) -> Iterator[Finding]:
    """LB206 of any Markdown of the library; `files` maps slugs to files."""
    for line, token in walk(tokens):
        href = str(token.attrs.get("href", ""))
        if token.type != "link_open" or href.startswith("#") or ":" in href:
            continue
        found = target(href)
        if found is None:
            yield line, "LB206", f"'{href}' is no article; link to a file such as ../site/x.md"
        elif found.slug not in files:
            yield line, "LB206", f"the article {unknown(found.slug, list(files))}"
        elif found.seen_from(where) != files[found.slug]:
            yield line, "LB206", f"'{href}' leads nowhere; the file is {files[found.slug]}"


def _sections(article: Article, parts: Sequence[Part], library: Library) -> Iterator[Finding]:
    headed = parts[1:]
    if article.language == "en":
        yield from _named(article.kind, headed)
    elif original := library.articles.get(article.translates or ""):
        wanted = len(split(parse(original.body))) - 1
        if wanted != len(headed):
            yield 1, "LB213", f"there are {len(headed)} sections, and {wanted} in the original"
    said = sections(article)
    for heading, line, *_ in headed:
        if heading in said and not any(letter.isalnum() for letter in said[heading]):
            message = f"'{heading}' is empty while no local rule is answered; say what holds then"
            yield line, "LB210", message
    if article.kind == "checklist" and headed and not _leads_on(headed[-1].tokens):
        yield headed[-1].line, "LB212", "link to the articles for what may go wrong"


def _named(kind: str, headed: Sequence[Part]) -> Iterator[Finding]:
    wanted = list(SECTIONS[kind])
    if not wanted:
        return
    seen: list[int] = []
    for heading, line, *_ in headed:
        if heading not in wanted:
            yield line, "LB201", f"the section {unknown(heading, wanted)}"
            continue
        place = wanted.index(heading)
        if place in seen:
            yield line, "LB201", f"'{heading}' stands twice; make it one section"
        elif seen and place < max(seen):
            yield line, "LB203", f"'{heading}' belongs before '{wanted[max(seen)]}'"
        seen.append(place)
    for place, (heading, needed) in enumerate(SECTIONS[kind].items()):
        if needed and place not in seen:
            yield 1, "LB202", f"the section '{heading}' is missing"


def _leads_on(tokens: Sequence[Token]) -> bool:
    hrefs = (str(token.attrs.get("href", "")) for _, token in walk(tokens))
    return any(target(href) for href in hrefs if href)


def _steps(parts: Sequence[Part]) -> Iterator[Finding]:
    for heading, line, tokens, _ in parts:
        if heading not in STEP_SECTIONS:
            continue
        lists = [one for one in children(tokens) if one[0].type == "ordered_list_open"]
        if len(lists) != 1 or "start" in lists[0][0].attrs:
            message = f"'{heading}' has {len(lists)} numbered lists; make it one, from 1 on"
            yield line, "LB204", message
        for item in (item for one in lists for item in children(one[1:-1])):
            if not any(_shows(token) for token in item):
                at = item[0].map[0] + 1 if item[0].map else line
                yield at, "LB205", "say in italics, as a sentence, what should be seen"


def _shows(token: Token) -> bool:
    inner = token.children or []
    return any(is_seen(inner, index) for index in range(len(inner)))


def _numbers_named(article: Article, tokens: Sequence[Token]) -> Iterator[Finding]:
    if _items(tokens) == _items(apply(parse(article.body), {})):
        return
    for line, token in walk(tokens):
        text = inline_text(token.children or ())
        if token.type == "inline" and _NUMBERED.search(text):
            yield line, "LB211", "a local rule may change this number; name the step by its words"


def _parts_named(article: Article, tokens: Sequence[Token], library: Library) -> Iterator[Finding]:
    for line, token in walk(tokens):
        href = str(token.attrs.get("href", ""))
        found = target(href)
        slug, part = (found.slug, found.step) if found else (article.slug, href[1:])
        if not part or (found is None and not href.startswith("#")):
            continue
        if slug in library.trees:
            yield line, "LB215", "an article leads to a tree as a whole; take the '#' part away"
        elif slug in library.articles:
            ids = set_headings(parse(library.articles[slug].body))
            if part not in ids:
                yield line, "LB215", f"the part {unknown(part, sorted(ids))}"


def _readable(article: Article) -> Iterator[Finding]:
    found = grade(article) if article.language == "en" and article.kind != "note" else 0
    if found > HIGHEST_GRADE:
        message = f"this reads at grade {found:.1f}; make sentences shorter and words plainer"
        yield 1, "LB214", message


def _items(tokens: Sequence[Token]) -> int:
    return sum(
        token.type == "list_item_open"
        for part in split(tokens)
        if part.heading in STEP_SECTIONS
        for token in part.tokens
    )
