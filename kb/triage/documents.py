"""What search is given: the articles, and each tree as a way to the article that names it."""

from __future__ import annotations

from collections.abc import Mapping

from kb.library.article import Article, Library
from kb.search.documents import Document, from_library
from kb.triage.tree import Tree


def documents(
    library: Library, trees: Mapping[str, Tree], answers: Mapping[str, bool]
) -> list[Document]:
    """All that can be found. A tree that no article names has nowhere to lead, and is left out."""
    owners: dict[str, Article] = {}
    for article in library.articles.values():
        if article.tree and article.redirect is None:
            owners.setdefault(article.tree, article)
    articles = from_library(library, answers)
    own = {document.slug: document for document in articles}
    return articles + [
        _of_tree(tree, own[owners[slug].slug])
        for slug, tree in trees.items()
        if slug in owners and owners[slug].slug in own
    ]


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
