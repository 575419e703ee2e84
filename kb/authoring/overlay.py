"""The library that is in force: the shipped one with the county's published texts laid over it.

The shipped files are never changed. What comes out is the same as if the published texts had
been written into the folder: an edited article or tree takes the place of the shipped one, a
new one is added, and a retired one leads to another.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import TypeVar

from kb.authoring.edits import is_tree
from kb.base.errors import Problem
from kb.library.article import Article, Library, TreeSource
from kb.library.parse import parse_article

Text = TypeVar("Text", Article, TreeSource)


@dataclass(frozen=True)
class Published:
    """A text in force; `where` is its path within the library: site/x.md, or trees/x.md.

    `shipped_hash` is the hash of the shipped text that it takes account of, or "".
    """

    slug: str
    where: str
    text: str
    shipped_hash: str


def apply(shipped: Library, published: Mapping[str, Published]) -> tuple[Library, list[Problem]]:
    """Lay published texts over a library; tells of the faults found in reading them.

    A text that can no longer be read at all, or whose slug the shipped library has given to
    something of another sort, is left out and told of: an edit never takes an article away.
    """
    articles, trees = dict(shipped.articles), dict(shipped.trees)
    problems: list[Problem] = []
    for slug, one in published.items():
        where = (shipped.folder / one.where).as_posix()
        if slug in (shipped.articles if is_tree(one.where) else shipped.trees):
            message = f"the slug '{slug}' is already that of another file; take another"
            problems.append(Problem(where, 1, "LB115", message, field="slug"))
        elif is_tree(one.where):
            trees[slug] = TreeSource(slug, one.text, where)
        else:
            article, faults = parse_article(one.text, where)
            problems += faults
            if article is not None:
                articles[slug] = article
    library = replace(shipped, articles=_in_order(articles), trees=_in_order(trees))
    return library, sorted(problems)


def place(where: str, text: str, library: Library) -> str:
    """Where a file belongs once its text names another equipment; else where it is."""
    path = PurePosixPath(where)
    article = None if is_tree(where) else parse_article(text, where)[0]
    known = {one.id for one in library.words.equipment}
    if article is None or article.equipment not in known or not path.parent.name:
        return where
    return (path.parent.with_name(article.equipment) / path.name).as_posix()


def _in_order(texts: dict[str, Text]) -> dict[str, Text]:
    """By path, as a folder is read."""
    return dict(sorted(texts.items(), key=lambda item: PurePosixPath(item[1].where)))
