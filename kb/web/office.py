"""Office: what is loaded, and the ways to people, rules and proof."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from kb.incidents.keeping import keep_until
from kb.web.access import allow
from kb.web.county import county

pages = Blueprint("office", __name__, url_prefix="/office")


@pages.get("")
@allow("see the office")
def board() -> ResponseReturnValue:
    """What is loaded, and who may sign in."""
    record = county().record
    people, elections = county().people.all(), record.elections()
    return render_template(
        "office/board.html",
        elections=elections,
        kept={one.id: keep_until(one.date, county().settings.keep_months) for one in elections},
        holds={one.id: sum(row.held for row in record.incidents(one.id)) for one in elections},
        places=record.places(),
        devices=record.devices(),
        people=people,
        disabled=sum(person.disabled for person in people),
        ledger=record.size(),
    )
