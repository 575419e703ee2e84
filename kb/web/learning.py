"""What callers said: authors turn words into phrases with one key, and see how texts do."""

from __future__ import annotations

from flask import Blueprint, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import InputError, NotFound
from kb.review.texts import fixes, walks
from kb.web import lessons
from kb.web.access import allow
from kb.web.county import county
from kb.web.ends import VOTING_WORDS

pages = Blueprint("learning", __name__, url_prefix="/library/learning")


@pages.get("")
@allow("learn from calls")
def board() -> ResponseReturnValue:
    """The three lists: found nothing, offered as phrases, words that led to each article."""
    return render_template(
        "learning/board.html",
        lists=lessons.lists(),
        articles=_titles(),
        set_aside=lessons.decided("", "set-aside"),
    )


@pages.get("/figures")
@allow("learn from calls")
def figures() -> ResponseReturnValue:
    """How often each article and each tree was followed by a mended fault."""
    cases = lessons.cases()
    return render_template(
        "learning/figures.html",
        articles=fixes.of_articles(cases),
        trees=walks.of_trees(cases, lessons.trees_of),
        titles={slug: tree.title for slug, tree in county().trees.items()},
    )


@pages.get("/articles/<slug>")
@allow("learn from calls")
def article(slug: str) -> ResponseReturnValue:
    """One article: the words that led to it, its accepted phrases, its fix rate."""
    found, cases = county().library.article(slug), lessons.cases()
    return render_template(
        "learning/article.html",
        article=found,
        figures=fixes.of_articles(cases).get(found.slug),
        heard=lessons.words_for(found.slug, lessons.picks(cases)),
        accepted=lessons.decided(found.slug, "accepted"),
        set_aside=lessons.decided(found.slug, "set-aside"),
        history=lessons.history(found.slug),
    )


@pages.get("/trees/<slug>")
@allow("learn from calls")
def tree(slug: str) -> ResponseReturnValue:
    """One tree: its walks, ends and steps as the record has them."""
    found = county().trees.get(slug)
    if found is None:
        raise NotFound(f"There is no tree '{slug}'. The library lists those there are.")
    return render_template(
        "learning/tree.html",
        tree=found,
        trees=county().trees,
        figures=walks.of_trees(lessons.cases(), lessons.trees_of).get(slug),
        voting=VOTING_WORDS,
    )


@pages.post("/accept")
@allow("learn from calls")
def accept() -> ResponseReturnValue:
    """Make a caller's words a phrase of an article; it works at once."""
    slug, words = _given()
    if slug not in county().library.articles:
        raise InputError("Pick an article from the list: the words become a phrase of it.")
    found = county().library.article(slug)
    county().folder.learning.accept(found.slug, words, g.session.account.login, now())
    county().renew()
    return _done(found.slug)


@pages.post("/set-aside")
@allow("learn from calls")
def set_aside() -> ResponseReturnValue:
    """Never offer these words again: for the article they are offered for, or for none."""
    slug, words = request.form.get("offered_for", ""), _given()[1]
    county().folder.learning.set_aside(slug, words, g.session.account.login, now())
    return _done(slug)


@pages.post("/take-back")
@allow("learn from calls")
def take_back() -> ResponseReturnValue:
    """Take back that words were accepted or set aside."""
    slug, words = _given()
    county().folder.learning.take_back(slug, words, g.session.account.login, now())
    county().renew()
    return _done(slug)


def _given() -> tuple[str, str]:
    return request.form.get("slug", "").strip(), request.form.get("words", "")


def _done(slug: str) -> ResponseReturnValue:
    """A script that takes the line away itself needs no page."""
    if "X-Part" in request.headers:
        return "", 204
    if request.form.get("from") == "article":
        return redirect(url_for("learning.article", slug=slug), 303)
    return redirect(url_for("learning.board"), 303)


def _titles() -> dict[str, str]:
    articles = county().library.articles.values()
    return {
        one.slug: one.title
        for one in sorted(articles, key=lambda one: one.title)
        if one.redirect is None and one.translates is None
    }
