"""Now: what has stopped, what is open and how old, who is where, and what is left in store.

The table is polled with its ETag: while nothing is stored, the server answers 304 without building
anything. The tag changes each minute too, since ages on the page do. What is built is built
once for all who look: nothing in it is the person's own.
"""

from __future__ import annotations

from datetime import datetime

from flask import Blueprint, current_app, make_response, render_template, request
from flask.typing import ResponseReturnValue
from markupsafe import Markup

from kb.base.clock import now
from kb.web import day
from kb.web.access import allow
from kb.web.county import county

pages = Blueprint("now", __name__, url_prefix="/now")


@pages.get("")
@allow("watch the day")
def board() -> ResponseReturnValue:
    """The page."""
    instant = now()
    tag = _tag(instant)
    election = county().election(instant)
    # It came from our own template.
    made = Markup(_shared(tag, instant))  # noqa: S704
    return render_template("now/board.html", election=election, table=made, tag=tag)


@pages.get("/table")
@allow("watch the day")
def table() -> ResponseReturnValue:
    """The part that is asked for again and again; nothing in it is the person's own."""
    instant = now()
    tag = _tag(instant)
    if request.if_none_match.contains(tag):
        response = make_response("", 304)
    else:
        response = make_response(_shared(tag, instant))
    response.set_etag(tag)
    response.headers["Cache-Control"] = "private, no-cache"
    return response


def _tag(instant: datetime) -> str:
    return f"{county().record.version()}-{int(instant.timestamp() // 60)}"


def _shared(tag: str, instant: datetime) -> str:
    shared: day.Shared = current_app.extensions.setdefault("latchbook-now", day.Shared())
    return shared.of(f"{county().folder.path} {tag}", lambda: _render(instant))


def _render(instant: datetime) -> str:
    return render_template("now/table.html", day=day.read(county(), instant), shown=day.SHOWN)
