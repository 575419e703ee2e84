"""The after-action report on the screen, and with its tables as one file to take away."""

from __future__ import annotations

import io
import zipfile

from flask import Blueprint, render_template, send_file
from flask.typing import ResponseReturnValue

from kb.exchange.report.contents import RATINGS
from kb.exchange.report.store import cell_of, files_of, made_of
from kb.review.narrowing import Narrowing
from kb.web import lookback
from kb.web.access import allow
from kb.web.county import county
from kb.web.lookback import Asked

pages = Blueprint("report", __name__, url_prefix="/review")


@pages.get("/report")
@allow("review")
def show() -> ResponseReturnValue:
    """The report, ready to be printed."""
    wanted = _whole()
    review = lookback.look(wanted).review
    told = made_of(county().folder, wanted.election, review)
    return render_template(
        "review/report.html", asked=wanted, told=told, cell=cell_of(told), ratings=RATINGS
    )


@pages.get("/report.zip")
@allow("review")
def take() -> ResponseReturnValue:
    """The report as one HTML file, with the bundle of its tables."""
    wanted = _whole()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        seen = lookback.look(wanted).review
        for name, data in files_of(county().folder, wanted.election, seen).items():
            archive.writestr(name, data)
    out.seek(0)
    return send_file(
        out,
        mimetype="application/zip",
        as_attachment=True,
        download_name=f"report-{wanted.election.id}.zip",
    )


def _whole() -> Asked:
    """The election asked for, never a part of it."""
    wanted = lookback.asked_or_404()
    return Asked(wanted.election, Narrowing(), wanted.so_far)
