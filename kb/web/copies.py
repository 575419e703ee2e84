"""The record, its public copy and the review bundle, taken out by page as one file each."""

from __future__ import annotations

import io
from pathlib import Path
from tempfile import TemporaryDirectory

from flask import Blueprint, request, send_file
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import InputError
from kb.exchange import bundle_store
from kb.exchange.record import store
from kb.web.access import allow
from kb.web.county import county

pages = Blueprint("copies", __name__)

KINDS = ("record", "public-copy", "bundle")


@pages.post("/record/copy")
@allow("take out the record")
def take() -> ResponseReturnValue:
    """Make the file of an election and hand it over; a checkpoint is signed for it first."""
    election, kind = request.form.get("election", ""), request.form.get("kind", "")
    if kind not in KINDS:
        raise InputError(f"Pick what to take out: {', '.join(KINDS)}.")
    folder = county().folder
    with TemporaryDirectory(prefix="latchbook-copy-") as name:
        out = Path(name) / f"{kind}.zip"
        if kind == "bundle":
            bundle_store.write(folder.record, folder.people, election, out)
        else:
            public = kind == "public-copy"
            store.export(folder, election, out, _classes(), public=public, now=now())
        data = out.read_bytes()
    safe = "".join(sign if sign.isalnum() else "-" for sign in election)
    return send_file(
        io.BytesIO(data), "application/zip", as_attachment=True, download_name=f"{kind}-{safe}.zip"
    )


def _classes() -> dict[str, str]:
    """The equipment class of each article and tree: some are not for the public."""
    articles = {slug: one.equipment for slug, one in county().library.articles.items()}
    return articles | {slug: tree.equipment for slug, tree in county().trees.items()}
