"""The second reader: what was changed, how it will look, approve it or send it back."""

from __future__ import annotations

from collections.abc import Mapping

from flask import Blueprint, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.authoring import edits
from kb.authoring.differences import differences
from kb.authoring.edits import Decision, Edit
from kb.base.clock import now
from kb.base.errors import InputError
from kb.web import drafts, texts
from kb.web.access import allow
from kb.web.county import county
from kb.web.forms import LONGEST_LINE

pages = Blueprint("reading", __name__, url_prefix="/library/write/edits")


@pages.get("/<identifier>/read")
@allow("edit the library")
def page(identifier: str) -> ResponseReturnValue:
    """An edit as it was handed in, or as it ended."""
    return _page(county().folder.editions.edit(identifier))


@pages.post("/<identifier>/decide")
@allow("edit the library")
def decide(identifier: str) -> ResponseReturnValue:
    """Approve an edit, and it is in force at once; or send it back to its author."""
    editions = county().folder.editions
    reason = " ".join(request.form.get("reason", "").split())[:LONGEST_LINE]
    given = request.form.get("revision", "")
    revision = int(given) if given.isascii() and given.isdecimal() and len(given) < 10 else 0
    decision = Decision(g.session.account.login, revision, reason, now())
    edit = editions.edit(identifier)
    approved = request.form.get("do") == "approve"
    if approved and drafts.findings(edit).errors:
        return _page(edit, {"reason": "By now the check finds errors in it. Send it back."}, 422)
    if approved and (why := _frozen(reason)):
        return _page(edit, {"reason": why}, 422)
    try:
        if not approved:
            editions.change(identifier, lambda old: edits.send_back(old, decision))
            return redirect(url_for("write.work"), 303)
        editions.publish(identifier, decision, texts.standing(edit.slug).shipped.hash)
    except InputError as error:
        return _page(editions.edit(identifier), {"reason": str(error)}, error.http_status)
    county().renew()
    return redirect(url_for("write.history", slug=edit.slug), 303)


def _frozen(reason: str) -> str:
    """What keeps a change of a frozen library from coming into force; empty where nothing does.

    From the freeze to the canvass a change is a notice: a manager approves it and says why.
    Accepted caller phrases stand outside the freeze.
    """
    election = county().election(now())
    if election is None or not county().folder.worksheet.worksheet(election.id).frozen:
        return ""
    if "manager" not in g.session.account.roles:
        return (
            f"The library is frozen for {election.name}: only a manager may let a change into "
            "force now, as a notice with a reason."
        )
    if not reason:
        return f"The library is frozen for {election.name}. Say why this cannot wait."
    return ""


def _page(
    edit: Edit, problems: Mapping[str, str] | None = None, status: int = 200
) -> ResponseReturnValue:
    shown = render_template(
        "write/reading.html",
        title=texts.title_of(edit),
        states=edits.STATES,
        problems=problems or {},
        reason=request.form.get("reason", ""),
        mine=edit.author == g.session.account.login,
        lines=differences(county().folder.editions.text(edit.base) or "", edit.text),
        outdated=edit.outdated(texts.standing(edit.slug).current.hash),
        **drafts.shown(edit),
    )
    return shown, status
