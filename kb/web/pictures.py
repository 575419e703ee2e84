"""Pictures of equipment, where the county allows them: taken in by the phone, shown in the case."""

from __future__ import annotations

from flask import Blueprint, Response, jsonify, request
from flask.typing import ResponseReturnValue

from kb.base.errors import InputError, NotFound
from kb.incidents.jpeg import fault
from kb.web.access import allow
from kb.web.county import county
from kb.web.entries import incident_or_404

pages = Blueprint("pictures", __name__)


@pages.post("/pictures")
@allow("write down readings")
def take() -> ResponseReturnValue:
    """Keep one picture; the entry that names it comes after it."""
    if not county().allows_pictures:
        raise InputError(
            "This county has not allowed pictures in its worksheet of local rules, so it was not "
            "stored. Write down what you see."
        )
    data = request.get_data()
    if why := fault(data):
        raise InputError(why)
    return jsonify(picture=county().folder.pictures.keep(data))


@pages.get("/incidents/<identifier>/pictures/<name>")
@allow("read incidents")
def show(identifier: str, name: str) -> ResponseReturnValue:
    """A picture of a case, unless its entry was redacted or struck out."""
    named = {one.picture for one in incident_or_404(identifier).pictures}
    data = county().folder.pictures.get(name) if name in named else None
    if data is None:
        raise NotFound("There is no such picture in this case, or it was redacted.")
    response = Response(data, mimetype="image/jpeg")
    response.headers["Cache-Control"] = "private, no-store"
    return response
