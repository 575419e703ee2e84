"""Print: a booklet of a chosen set in the order of short codes, and pocket cards."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, Response, render_template, request, url_for
from flask.typing import ResponseReturnValue
from markupsafe import Markup

from kb.base.clock import local, now
from kb.base.errors import InputError
from kb.base.ids import fingerprint
from kb.incidents import lists
from kb.library.article import SECTIONS, Article
from kb.library.selection import Choice, parse_codes
from kb.library.text import steps
from kb.triage.tree import Tree
from kb.web import bodies
from kb.web.access import allow
from kb.web.county import county
from kb.web.shown import own, zone

pages = Blueprint("printing", __name__, url_prefix="/library/print")
KINDS = (*SECTIONS, "tree")


@dataclass(frozen=True)
class Leaf:
    """One text of a booklet. `name` is its own on the page and in the style sheet."""

    name: str
    code: str
    kind: str
    text: Article | Tree

    @property
    def foot(self) -> str:
        """What stands at the foot of each of its pages."""
        said = [f"Card {self.code}"] if self.code else []
        return " · ".join([*said, own(self.text.title), f"version {self.text.hash[:8]}"])


@pages.get("")
@allow("read the library")
def choose() -> ResponseReturnValue:
    """The form on which a set is chosen."""
    return _form("", 200)


@pages.get("/booklet")
@allow("read the library")
def booklet() -> ResponseReturnValue:
    """One page of all chosen texts, made to be printed."""
    leaves = _chosen()
    if isinstance(leaves, str):
        return _form(leaves, 422)
    return render_template(
        "print/booklet.html",
        leaves=leaves,
        body=_body,
        large=bool(request.args.get("large")),
        unset=_unset(leaves),
        version=_version(leaves),
        printed=local(now(), zone()),
        styles=url_for("printing.styles", **request.args.to_dict(flat=False)),  # type: ignore[arg-type]
    )


@pages.get("/booklet.css")
@allow("read the library")
def styles() -> ResponseReturnValue:
    """The feet of the booklet's pages: each text has pages of its own kind."""
    leaves = _chosen()
    rules = []
    if not isinstance(leaves, str):
        said = f"Contents · {county().settings.county} · version {_version(leaves)}"
        rules = [_foot("cover", said), *(_foot(leaf.name, leaf.foot) for leaf in leaves)]
    return Response("\n".join(rules), mimetype="text/css")


@pages.get("/cards")
@allow("read the library")
def cards() -> ResponseReturnValue:
    """Pocket cards of the chosen articles: code, stop line, first step; a checklist's steps."""
    leaves = _chosen()
    if isinstance(leaves, str):
        return _form(leaves, 422)
    return render_template(
        "print/cards.html",
        leaves=[leaf for leaf in leaves if isinstance(leaf.text, Article)],
        steps=lambda article: steps(article, county().answers),
        large=bool(request.args.get("large")),
        hotline=county().settings.hotline,
    )


def _form(fault: str, status: int) -> ResponseReturnValue:
    shown = render_template(
        "print/choose.html",
        fault=fault,
        chosen=request.args,
        equipment=[one.id for one in county().library.words.equipment],
        phases=lists.PHASES,
        kinds=KINDS,
        picked=request.args.getlist("kind"),
    )
    return shown, status


def _chosen() -> list[Leaf] | str:
    """The chosen texts by code; or what is at fault with the choice."""
    try:
        codes = parse_codes(request.args.get("codes", ""))
    except InputError as error:
        return str(error)
    given = request.args
    kinds = frozenset(given.getlist("kind")) & frozenset(KINDS)
    choice = Choice(given.get("equipment", ""), given.get("phase", ""), kinds, codes)
    language = "es" if given.get("language") == "es" else "en"
    leaves = []
    for article in county().library.articles.values():
        code = bodies.original(article).code or ""
        if article.redirect is None and article.language == language:
            leaves.append(Leaf(f"leaf-{article.slug}", code, article.kind, article))
    if language == "en":
        leaves += [
            Leaf(f"leaf-tree-{tree.slug}", tree.code or "", "tree", tree)
            for tree in county().trees.values()
        ]
    held = [
        leaf
        for leaf in leaves
        if choice.holds(leaf.code, leaf.text.equipment, leaf.text.phase, leaf.kind)
    ]
    if not held:
        return "Nothing in the library fits this choice. Choose more, or other codes."
    return sorted(held, key=lambda leaf: (leaf.code or "999", leaf.text.title))


def _body(leaf: Leaf) -> Markup:
    """The very part of the page that the library shows of a text."""
    prefix = f"{leaf.name}-"
    if isinstance(leaf.text, Tree):
        values = {**bodies.tree_values(leaf.text), "prefix": prefix}
        return Markup(render_template("library/tree-body.html", **values))  # noqa: S704
    values = bodies.article_values(leaf.text, prefix)
    return Markup(render_template("library/article-body.html", **values))  # noqa: S704


def _unset(leaves: list[Leaf]) -> list[str]:
    """Questions of local rules that the texts use and nobody has answered."""
    answers, questions = county().answers, county().library.rules.questions
    used = {rule for leaf in leaves for rule in leaf.text.local_rule if rule not in answers}
    return [question for rule, question in questions.items() if rule in used]


def _version(leaves: list[Leaf]) -> str:
    """What stands for the texts and the county's answers together."""
    answers = sorted(county().answers.items())
    return fingerprint("".join(leaf.text.hash for leaf in leaves) + repr(answers))[:8]


def _foot(name: str, said: str) -> str:
    quoted = said.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
    return (
        f'.{name} {{ page: {name}; }}\n@page {name} {{ @bottom-left {{ content: "{quoted}"; }} }}'
    )
