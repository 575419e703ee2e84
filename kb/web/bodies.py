"""What the templates of an article's and a tree's body are given, on their page or in a preview."""

from __future__ import annotations

from flask import url_for

from kb.library.article import Article
from kb.library.render import render
from kb.triage.tree import Tree
from kb.web.county import county
from kb.web.ends import VOTING_WORDS


def article_values(article: Article, prefix: str = "") -> dict[str, object]:
    """For library/article-body.html, under the county's answers."""
    rendered = render(article, county().answers, address, prefix)
    first = original(article)
    others = [
        one
        for one in county().library.articles.values()
        if first.slug in {one.slug, one.translates} and one.slug != article.slug
    ]
    return {"article": article, "rendered": rendered, "original": first, "languages": others}


def original(article: Article) -> Article:
    """The article that a translation translates; any other is its own."""
    return county().library.articles.get(article.translates or "", article)


def tree_values(tree: Tree) -> dict[str, object]:
    """For library/tree-body.html; branches may lead on in any tree of the library."""
    return {
        "tree": tree,
        "numbers": {step: number for number, step in enumerate(tree.steps, 1)},
        "owners": [one for one in county().library.articles.values() if one.tree == tree.slug],
        "voting": VOTING_WORDS,
        "trees": {**county().trees, tree.slug: tree},
    }


def address(slug: str) -> str:
    """Where a link of an article leads."""
    return url_for("library.tree" if slug in county().trees else "library.article", slug=slug)
