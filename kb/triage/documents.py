"""What search is given: the articles, and each tree as a way to the article that names it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from kb.library.article import Article, Library
from kb.search.documents import Document, from_library
from kb.triage.tree import Tree

NO_PHRASES: Mapping[str, Sequence[str]] = MappingProxyType({})


def documents(
    library: Library,
    trees: Mapping[str, Tree],
    answers: Mapping[str, bool],
    accepted: Mapping[str, Sequence[str]] = NO_PHRASES,
) -> list[Document]:
    """All that can be found. A tree that no article names has nowhere to lead, and is left out.

    `accepted` are callers' words that the county's authors have accepted, by article.
    """
    owners: dict[str, Article] = {}
    for article in library.articles.values():
        # Not a translation: whoever searches in English is led to the English article.
        if article.tree and article.redirect is None and article.translates is None:
            owners.setdefault(article.tree, article)
    more = _by_article(library, accepted)
    articles = [
        replace(one, phrases=(*one.phrases, *more[one.slug])) if one.slug in more else one
        for one in from_library(library, answers)
    ]
    own = {document.slug: document for document in articles}
    return articles + [
        _of_tree(tree, own[owners[slug].slug])
        for slug, tree in trees.items()
        if slug in owners and owners[slug].slug in own
    ]


def _by_article(
    library: Library, accepted: Mapping[str, Sequence[str]]
) -> dict[str, tuple[str, ...]]:
    """Accepted phrases by the article that holds now: a retired one hands on what it had."""
    found: dict[str, tuple[str, ...]] = {}
    for slug, phrases in accepted.items():
        if slug in library.articles:
            now = library.article(slug).slug
            found[now] = (*found.get(now, ()), *phrases)
    return found


def _of_tree(tree: Tree, owner: Document) -> Document:
    """A tree's own words, shown under the article that leads to it."""
    return Document(
        slug=tree.slug,
        reports_as=owner.slug,
        title=tree.title,
        equipment=tree.equipment,
        phase=tree.phase,
        kind="tree",
        phrases=tree.phrases,
        rest=tree.intro_text,
        stop=owner.stop,
        code=tree.code or "",
        first_step=owner.first_step,
        hash=tree.hash,
    )
