"""Proof of the record: checkpoints made, listed, and printed to be handed out.

What an outside person keeps is the signed note. The printed page carries it as text and as a QR
code, with lines for two persons; it fits one sheet.
"""

from __future__ import annotations

import base64
import io

import segno
from flask import Blueprint, Response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import NotFound
from kb.incidents.notes import Verifier
from kb.incidents.store import keys
from kb.incidents.store.checkpoints import Signed
from kb.web.access import allow
from kb.web.county import county

pages = Blueprint("proof", __name__, url_prefix="/record/proof")

# What stands in an address for the log of what belongs to no election.
COUNTY_LOG = "~"


@pages.get("")
@allow("prove the record")
def board() -> ResponseReturnValue:
    """The checkpoints of an election, the newest first, and what they prove."""
    current = county().election(now())
    chosen = request.args.get("election", current.id if current else COUNTY_LOG)
    log = _log(chosen)
    return render_template(
        "record/proof.html",
        elections=county().record.elections(),
        chosen=chosen,
        county_log=COUNTY_LOG,
        checkpoints=county().folder.checkpoints.all(log),
        size=county().record.log_size(log),
        key=_key(),
        short=short,
    )


@pages.post("")
@allow("prove the record")
def make() -> ResponseReturnValue:
    """Sign the log as it stands now."""
    log = _log(request.form.get("election", ""))
    made = county().folder.checkpoints.make(log, "asked", now())
    return redirect(url_for("proof.sheet", log=log or COUNTY_LOG, size=made.size), 303)


@pages.get("/<log>/<size>")
@allow("prove the record")
def sheet(log: str, size: str) -> ResponseReturnValue:
    """One checkpoint on a sheet of paper, to be handed to two persons outside."""
    found = _checkpoint(log, size)
    election = county().record.election(found.log) if found.log else None
    return render_template(
        "record/proof-sheet.html",
        checkpoint=found,
        about=election.name if election else found.log or "County's own entries",
        log=log,
        key=_key(),
        short=short,
    )


@pages.get("/<log>/<size>/code.svg")
@allow("prove the record")
def code(log: str, size: str) -> ResponseReturnValue:
    """The whole signed note as a QR code (ISO/IEC 18004), error correction M."""
    picture = io.BytesIO()
    found = _checkpoint(log, size)
    segno.make_qr(found.note.encode(), error="m").save(
        picture, kind="svg", scale=4, border=4, light="#fff", omitsize=True, xmldecl=False
    )
    return Response(picture.getvalue(), mimetype="image/svg+xml")


def short(root: bytes) -> str:
    """The first 16 letters of a root in base64, in fours, to be compared by voice."""
    start = base64.b64encode(root).decode()[:16]
    return " ".join(start[at : at + 4] for at in range(0, 16, 4))


def _key() -> Verifier | None:
    path = county().folder.path
    return keys.verifier(path) if keys.there(path) else None


def _log(chosen: str) -> str:
    """The log of an election's id, or of the county. Raises NotFound for an unknown one."""
    if chosen == COUNTY_LOG:
        return ""
    if county().record.election(chosen) is None:
        raise NotFound(f"There is no election '{chosen}'. The page of checkpoints lists them.")
    return chosen


def _checkpoint(log: str, size: str) -> Signed:
    number = int(size) if size.isascii() and size.isdigit() and len(size) < 16 else 0
    found = county().folder.checkpoints.of_size(_log(log), number)
    if found is None:
        raise NotFound(
            f"There is no checkpoint at {size} entries. The page of checkpoints lists them."
        )
    return found
