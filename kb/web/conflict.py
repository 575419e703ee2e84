"""Two authors had one text in hand: the later one sees both and a merge, and loses nothing."""

from __future__ import annotations

from dataclasses import replace

from flask import Blueprint, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.wrappers import Response

from kb.authoring.differences import differences
from kb.authoring.edits import Edit
from kb.authoring.merging import merge
from kb.base.clock import now
from kb.web import texts
from kb.web.access import allow
from kb.web.county import county

pages = Blueprint("conflict", __name__, url_prefix="/library/write/edits")


@pages.get("/<identifier>/compare")
@allow("edit the library")
def page(identifier: str) -> ResponseReturnValue:
    """Where both began, what is in force by now, what this edit has, and a merge of the two."""
    editions = county().folder.editions
    edit = editions.edit(identifier)
    found = texts.standing(edit.slug)
    if not edit.outdated(found.current.hash):
        return _to(edit)
    base = editions.text(edit.base) or ""
    return render_template(
        "write/compare.html",
        edit=edit,
        title=texts.title_of(edit),
        version=found.version,
        theirs=differences(base, found.current.text),
        yours=differences(base, edit.text),
        merged=merge(base, found.current.text, edit.text),
    )


@pages.post("/<identifier>/compare")
@allow("edit the library")
def take(identifier: str) -> ResponseReturnValue:
    """Go on from what is in force, with the merge or with one's own text; the old draft stays."""
    editions = county().folder.editions
    old = editions.edit(identifier)
    found = texts.standing(old.slug)
    edit, kept = texts.begin_from(found, "current", g.session.account.login, now())
    merged = merge(editions.text(old.base) or "", found.current.text, old.text)
    text = merged.text if request.form.get("do") == "merge" else old.text
    going_on = replace(edit, text=text, note=old.note, where=old.where)
    return _to(editions.begin(going_on, kept, instead_of=old))


def _to(edit: Edit) -> Response:
    return redirect(url_for("draft.page", identifier=edit.id), 303)
