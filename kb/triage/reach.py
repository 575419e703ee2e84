"""Articles that nobody comes to: no tree leads there, and search does not find their own title."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from kb.base.errors import Problem
from kb.library.article import Library
from kb.library.fields import warning
from kb.library.links import target
from kb.library.markdown import parse, walk
from kb.search.index import Index
from kb.triage.documents import documents
from kb.triage.tree import Tree

# An answerer looks at so many results before asking again.
SEEN = 3


def check_reach(library: Library, trees: Mapping[str, Tree]) -> Iterator[Problem]:
    """LB421. It builds an index by words alone, so it takes about a second a hundred articles."""
    index = Index(documents(library, trees, {}), library.words)
    linked = {
        found.slug
        for tree in trees.values()
        for _, token in walk(parse(tree.text))
        if (found := target(str(token.attrs.get("href", ""))))
    }
    for article in library.articles.values():
        reached = article.redirect or article.translates or article.tree or article.slug in linked
        if not reached and article.slug not in {
            hit.slug for hit in index.search(article.title, limit=SEEN).hits
        }:
            message = "no tree leads here, and its own title does not find it; word them apart"
            yield warning(article.where, article.lines, "title", "LB421", message)
