"""Office: elections, people and their one-time links."""

from __future__ import annotations

from flask import Blueprint, render_template, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.people.store import LINK_HOURS
from kb.web.access import allow
from kb.web.county import county

pages = Blueprint("office", __name__, url_prefix="/office")


@pages.get("")
@allow("see the office")
def board() -> ResponseReturnValue:
    """What is loaded, and who may sign in."""
    return _page()


@pages.post("/people/<login>/link")
@allow("manage people")
def link(login: str) -> ResponseReturnValue:
    """A one-time link for a person, shown once, to be handed over in person."""
    token = county().people.make_link(login, now())
    address = url_for("signin.first_password", token=token, _external=True)
    return _page(login=login, address=address)


def _page(login: str = "", address: str = "") -> str:
    record = county().record
    return render_template(
        "office/board.html",
        elections=record.elections(),
        places=record.places(),
        devices=record.devices(),
        people=county().people.all(),
        login=login,
        address=address,
        hours=LINK_HOURS,
        ledger=record.size(),
    )
