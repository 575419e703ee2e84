"""Writing: the work list, new articles, where an edit begins, and the history of each text."""

from __future__ import annotations

from flask import Blueprint, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.wrappers import Response

from kb.authoring import skeleton
from kb.authoring.differences import differences
from kb.authoring.edits import STATES, Edit
from kb.base.clock import local, now
from kb.base.errors import InputError, NotFound
from kb.base.ids import new_id
from kb.library.article import SECTIONS
from kb.library.check import wrong_slug
from kb.web import texts
from kb.web.access import allow
from kb.web.county import county
from kb.web.forms import Form
from kb.web.shown import zone

pages = Blueprint("write", __name__, url_prefix="/library/write")
KINDS = {**{kind: kind for kind in SECTIONS}, "tree": "tree"}
# Addresses of the library's own pages.
_RESERVED = {"learning", "print", "trees", "write"}


@pages.get("")
@allow("edit the library")
def work() -> ResponseReturnValue:
    """What lies on the desk: to be read by a second person, begun, changed upstream."""
    editions, me = county().folder.editions, g.session.account.login
    edits = editions.edits()
    waiting = [edit for edit in edits if edit.state == "handed-in"]
    current = {edit.slug: texts.standing(edit.slug).current.hash for edit in edits}
    return render_template(
        "write/work.html",
        to_read=[edit for edit in waiting if edit.author != me],
        handed_in=[edit for edit in waiting if edit.author == me],
        mine=[edit for edit in edits if edit.state == "draft" and edit.author == me],
        others=[edit for edit in edits if edit.state == "draft" and edit.author != me],
        outdated={edit.id for edit in edits if edit.outdated(current[edit.slug])},
        upgraded=[one for one in map(texts.standing, sorted(editions.published())) if one.upgraded],
    )


@pages.get("/new")
@allow("edit the library")
def new() -> ResponseReturnValue:
    """The form for a new article or tree."""
    return _new_form(Form(), 200)


@pages.post("/new")
@allow("edit the library")
def take_new() -> ResponseReturnValue:
    """Begin a draft with the fields and headings of its kind."""
    form = Form()
    title = form.text("title", "Write the title: one line, what is wrong or what is to be done.")
    kind = form.choice("kind", KINDS, "Pick what it is.")
    known = [item.id for item in county().library.words.equipment]
    equipment = form.choice("equipment", known, "Pick the equipment.")
    slug = form.text("slug", "Write a short name, such as lid-will-not-close.")
    if slug and not _is_free(slug):
        form.problems["slug"] = (
            f"'{slug}' cannot be the name. Use small letters and digits joined by hyphens, and a "
            "name that no article or tree has."
        )
    if form.problems:
        return _new_form(form, 422)
    today, present = local(now(), zone()).date(), now()
    is_tree = kind == "tree"
    edit = Edit(
        id=new_id(),
        slug=slug,
        where=f"{'trees' if is_tree else equipment}/{slug}.md",
        base="",
        shipped="",
        text=skeleton.tree(title, equipment, today)
        if is_tree
        else skeleton.article(kind, title, equipment, today),
        author=g.session.account.login,
        begun=present,
        changed=present,
    )
    county().folder.editions.begin(edit)
    return _to_edit(edit)


@pages.post("/begin/<slug>")
@allow("edit the library")
def begin(slug: str) -> ResponseReturnValue:
    """Begin an edit of a text, or go on with the one that this author has begun."""
    editions, me = county().folder.editions, g.session.account.login
    way = request.form.get("from", "current")
    found = texts.standing(slug)
    if not found.current.where:
        raise NotFound(f"There is no article or tree '{slug}' to edit.")
    mine = [one for one in editions.edits(slug) if one.author == me]
    if way == "current" and mine:
        return _to_edit(mine[0])
    edit, kept = texts.begin_from(found, way, me, now())
    return _to_edit(editions.begin(edit, kept))


@pages.get("/history/<slug>")
@allow("edit the library")
def history(slug: str) -> ResponseReturnValue:
    """Every version of a text, the differences of any two, and the edits under way."""
    found, editions = texts.existing(slug), county().folder.editions
    versions = editions.history(slug)
    named = {str(one.number): one.text for one in versions}
    if found.shipped.where:
        named["shipped"] = found.shipped.text
    names = list(named)
    new_name = request.args.get("to", names[0] if names else "")
    old_name = request.args.get("from", names[1] if len(names) > 1 else new_name)
    if not {old_name, new_name} <= {*names, ""}:
        raise InputError("There is no such version. Pick two from the lists of the history.")
    return render_template(
        "write/history.html",
        found=found,
        title=texts.title_of(found.current) if found.current.where else slug,
        versions=versions,
        edits=editions.edits(slug, ("draft", "handed-in", "set-aside")),
        states=STATES,
        names=names,
        old_name=old_name,
        new_name=new_name,
        lines=differences(named.get(old_name, ""), named.get(new_name, "")),
    )


@pages.get("/upgrade/<slug>")
@allow("edit the library")
def upgrade(slug: str) -> ResponseReturnValue:
    """The shipped text has changed beneath an edit: both, what differs, and the choices."""
    found = texts.existing(slug)
    if not found.upgraded:
        return redirect(url_for("write.history", slug=slug), 303)
    return render_template(
        "write/upgrade.html",
        found=found,
        title=texts.title_of(found.current),
        news=differences(found.heeded.text, found.shipped.text),
        against=differences(found.shipped.text, found.current.text),
        merged=found.merged,
        edits=county().folder.editions.edits(slug),
        states=STATES,
    )


def _is_free(slug: str) -> bool:
    if slug in _RESERVED or list(wrong_slug(slug, "")):
        return False
    taken = texts.standing(slug).current.where or county().folder.editions.edits(slug)
    return not taken


def _new_form(form: Form, status: int) -> ResponseReturnValue:
    page = render_template(
        "write/new.html",
        typed=form.typed,
        problems=form.problems,
        kinds=KINDS,
        equipment=county().library.words.equipment,
    )
    return page, status


def _to_edit(edit: Edit) -> Response:
    return redirect(url_for("draft.page", identifier=edit.id), 303)
