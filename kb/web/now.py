"""Now: what has stopped, what is open and how old, who is where, and what is left in store.

The table is polled with its ETag: while nothing is stored, the server answers 304 without building
anything. The tag changes each minute too, since ages on the page do.
"""

from __future__ import annotations

from collections import Counter
from datetime import datetime

from flask import Blueprint, make_response, render_template, request
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.incidents.rollcall import late_openings, silent
from kb.web.access import allow
from kb.web.county import county

pages = Blueprint("now", __name__, url_prefix="/now")


@pages.get("")
@allow("watch the day")
def board() -> ResponseReturnValue:
    """The page."""
    return render_template("now/board.html", **_day(now()))


@pages.get("/table")
@allow("watch the day")
def table() -> ResponseReturnValue:
    """The part that is asked for again and again; nothing in it is the person's own."""
    instant = now()
    tag = f"{county().record.version()}-{int(instant.timestamp() // 60)}"
    if request.if_none_match.contains(tag):
        response = make_response("", 304)
    else:
        response = make_response(render_template("now/table.html", **_day(instant)))
    response.set_etag(tag)
    response.headers["Cache-Control"] = "private, no-cache"
    return response


def _day(instant: datetime) -> dict[str, object]:
    record = county().record
    election = county().election(instant)
    rows = record.incidents(election.id, status="open") if election else []
    places = {place.id: place for place in record.places()}
    stops = record.incidents(election.id, effect="stopped") if election else []
    # A case may be closed, passed on, while voting there still stands.
    stopped = [row for row in stops if row.restored is None]
    devices = record.devices()
    marks = record.marks(election.id) if election else {}
    opened = {id_: told["place.opened"].at for id_, told in marks.items() if "place.opened" in told}
    everywhere = list(places.values())
    return {
        "silent": silent(election, everywhere, marks, instant) if election else [],
        "late": late_openings(election, everywhere, opened, instant) if election else [],
        "election": election,
        "rows": rows,
        "places": places,
        "stopped": stopped,
        "stopped_places": sorted({row.place for row in stopped if row.place}),
        "oldest": min((row.reported for row in rows if row.reported), default=None),
        "rovers": [
            (person, [row for row in rows if row.rover == person.login])
            for person in county().people.all()
            if "rover" in person.roles
        ],
        "spares": sorted(Counter(d.equipment for d in devices if d.spare and not d.place).items()),
        "at": instant,
    }
