"""The editor of one draft: what is typed is saved, checked and shown as it will look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from flask import Blueprint, g, jsonify, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.wrappers import Response

from kb.authoring import edits
from kb.authoring.differences import differences
from kb.authoring.edits import Edit
from kb.authoring.overlay import place
from kb.base.clock import now
from kb.base.errors import InputError, Refused
from kb.base.ids import new_id
from kb.web import drafts, texts
from kb.web.access import allow
from kb.web.county import county
from kb.web.forms import LONGEST_LINE
from kb.web.shown import clock

pages = Blueprint("draft", __name__, url_prefix="/library/write/edits")


@pages.get("/<identifier>")
@allow("edit the library")
def page(identifier: str) -> ResponseReturnValue:
    """The editor; whoever may not write in this edit is led to where it is read."""
    edit = county().folder.editions.edit(identifier)
    if edit.state == "draft" and edit.author == _me():
        return _editor(edit)
    return redirect(url_for("reading.page", identifier=identifier), 303)


@pages.post("/<identifier>")
@allow("edit the library")
def save(identifier: str) -> ResponseReturnValue:
    """Save what was typed; then check it, hand it in, or keep it as a draft of its own."""
    editions, do = county().folder.editions, request.form.get("do", "save")
    typed = _typed(editions.edit(identifier))
    if do == "own":
        own = replace(typed, id=new_id(), author=_me(), state="draft", revision=1, reason="")
        return _to(editions.begin(own))
    try:
        edit = _revise(typed)
    except (InputError, Refused) as error:
        return _editor(typed, {"edit-text": str(error)}, 409, stored=editions.edit(identifier))
    if do == "hand-in":
        return _hand_in(edit)
    return _to(edit) if do == "save" else _editor(edit)


@pages.post("/<identifier>/live")
@allow("edit the library")
def live(identifier: str) -> ResponseReturnValue:
    """For the editor's script: save what is typed so far; the check and the preview of it."""
    typed, told = _typed(county().folder.editions.edit(identifier)), ""
    try:
        typed = _revise(typed)
    except (InputError, Refused) as error:
        told = str(error)
    shown = drafts.parts(typed)
    saved = f"Saved at {clock(typed.changed)}."
    return jsonify(shown | {"revision": typed.revision, "saved": saved, "told": told})


@pages.post("/<identifier>/move")
@allow("edit the library")
def move(identifier: str) -> ResponseReturnValue:
    """The author takes an edit back from the second reader, or sets a draft aside."""
    rule = edits.take_back if request.form.get("do") == "take-back" else edits.set_aside
    me, at = _me(), now()
    edit = county().folder.editions.change(identifier, lambda old: rule(old, me, at))
    return _to(edit)


def _hand_in(edit: Edit) -> ResponseReturnValue:
    """Hand a saved draft in; where it may not be, the editor says why and what to do."""
    if problem := _hindrance(edit):
        return _editor(edit, problem, 422)
    editions, me = county().folder.editions, _me()
    try:
        editions.change(edit.id, lambda old: edits.hand_in(old, me, edit.revision, now()))
    except InputError as error:
        return _editor(edit, {"edit-text" if edit.note else "edit-note": str(error)}, 422)
    return redirect(url_for("reading.page", identifier=edit.id), 303)


def _hindrance(edit: Edit) -> dict[str, str]:
    found = texts.standing(edit.slug)
    if edit.changes_nothing and edit.shipped == found.heeded.hash:
        return {"edit-text": "Nothing is changed yet, so there is nothing to hand in."}
    if edit.outdated(found.current.hash):
        return {
            "edit-text": "Another text has come into force since you began. Look at both first."
        }
    if errors := drafts.findings(edit).errors:
        left = "1 error" if len(errors) == 1 else f"{len(errors)} errors"
        return {"found": f"The check finds {left}; mend what is listed, and hand it in again."}
    return {}


def _editor(
    edit: Edit,
    problems: Mapping[str, str] | None = None,
    status: int = 200,
    stored: Edit | None = None,
) -> ResponseReturnValue:
    """The editor; `stored` is what the database has, where that is not what was typed."""
    shown = render_template(
        "write/editor.html",
        title=texts.title_of(edit),
        problems=problems or {},
        stored=stored,
        lost=differences(stored.text, edit.text) if stored else [],
        outdated=edit.outdated(texts.standing(edit.slug).current.hash),
        **drafts.shown(edit),
    )
    return shown, status


def _revise(typed: Edit) -> Edit:
    given = request.form.get("revision", "")
    revision = int(given) if given.isascii() and given.isdecimal() and len(given) < 10 else 0
    me = _me()
    return county().folder.editions.change(
        typed.id, lambda old: edits.revise(old, me, revision, typed)
    )


def _typed(edit: Edit) -> Edit:
    """The edit as the form has it."""
    text = edits.plain(request.form.get("text", ""))
    note = " ".join(request.form.get("note", "").split())[:LONGEST_LINE]
    where = place(edit.where, text, county().library)
    return replace(edit, text=text, note=note, where=where, changed=now())


def _me() -> str:
    return str(g.session.account.login)


def _to(edit: Edit) -> Response:
    return redirect(url_for("draft.page", identifier=edit.id), 303)
