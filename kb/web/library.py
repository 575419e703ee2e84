"""Library: browse, search, read and print articles and trees."""

from __future__ import annotations

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from kb.base.errors import NotFound
from kb.incidents import lists
from kb.library.article import Article
from kb.web import bodies, heard
from kb.web.access import allow
from kb.web.county import county

pages = Blueprint("library", __name__, url_prefix="/library")
LONGEST_QUERY = 400


@pages.get("")
@allow("read the library")
def browse() -> ResponseReturnValue:
    """All articles by equipment; or those that fit some words."""
    words = request.args.get("q", "").strip()[:LONGEST_QUERY]
    equipment, phase = request.args.get("equipment", ""), request.args.get("phase", "")
    shelf = county().library
    results = None
    if words:
        results = county().search(words, limit=10, equipment=equipment or None, phase=phase or None)
        heard.in_library(results)
    groups: dict[str, list[Article]] = {item.id: [] for item in shelf.words.equipment}
    for article in sorted(shelf.articles.values(), key=lambda article: article.title):
        wanted = equipment in {"", article.equipment} and (not phase or phase in article.phase)
        if wanted and not article.redirect and article.language == "en":
            groups.setdefault(article.equipment, []).append(article)
    return render_template(
        "library/browse.html",
        groups=groups,
        words=words,
        equipment=equipment,
        phase=phase,
        phases=lists.PHASES,
        trees=sorted(county().trees.values(), key=lambda tree: tree.title),
        results=results,
    )


@pages.get("/<slug>")
@allow("read the library")
def article(slug: str) -> ResponseReturnValue:
    """One article, as it is read and printed."""
    found = county().library.article(slug)
    return render_template("library/article.html", **bodies.article_values(found))


@pages.get("/trees/<slug>")
@allow("read the library")
def tree(slug: str) -> ResponseReturnValue:
    """A whole tree as numbered steps with "go to step", as it is printed."""
    found = county().trees.get(slug)
    if found is None:
        raise NotFound(f"There is no tree '{slug}'. The library lists those there are.")
    return render_template("library/tree.html", **bodies.tree_values(found))
