"""Rounds without signal: the shell that a phone keeps, its worker, the pack and the own stops.

The shell and the pack are the same for everybody and name nobody; the stops belong to a login.
"""

from __future__ import annotations

import gzip
import hashlib
import json
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

import brotli
from flask import Blueprint, Response, current_app, g, make_response, render_template, request
from flask.typing import ResponseReturnValue

from kb import __version__
from kb.base.clock import now
from kb.web import fieldpack
from kb.web.access import allow
from kb.web.county import county

pages = Blueprint("field", __name__, url_prefix="/rounds")

HERE = Path(__file__).parent
FILES = (
    *("field/app.js", "field/dom.js", "field/find.js", "field/forms.js", "field/idb.js"),
    *("field/outbox.js", "field/store.js", "field/tasks.js", "field/views.js", "field/walk.js"),
    *("latchbook.css", "latch.svg"),
)


@pages.get("/field")
@allow("work a stop")
def shell() -> ResponseReturnValue:
    """The page that works with no signal; it holds nothing of anybody."""
    return render_template("rounds/field.html", modules=FILES[:-2])


@pages.get("/worker.js")
@allow("work a stop")
def worker() -> ResponseReturnValue:
    """The worker that keeps the shell. It changes when any of its files does."""
    files = [f"/static/{name}" for name in FILES]
    text = (HERE / "static" / "field" / "worker.js").read_text(encoding="utf-8")
    head = f"const VERSION = {json.dumps(_version())};\nconst FILES = {json.dumps(files)};\n"
    response = Response(head + text, mimetype="text/javascript")
    # One level up from where it lies: the list of stops has no slash at its end.
    response.headers["Service-Worker-Allowed"] = "/rounds"
    response.headers["Cache-Control"] = "no-cache"
    return response


@pages.get("/app.webmanifest")
@allow("work a stop")
def manifest() -> ResponseReturnValue:
    """What a phone shows of it among its programs."""
    icons = [{"src": "/static/latch.svg", "sizes": "any", "type": "image/svg+xml"}]
    for size in ("192", "512"):
        name = f"/static/field/icon-{size}.png"
        icons.append({"src": name, "sizes": f"{size}x{size}", "type": "image/png"})
    told = {
        "name": f"Rounds, {county().settings.county}",
        "short_name": "Rounds",
        "start_url": "/rounds/field",
        "scope": "/rounds",
        "display": "standalone",
        "background_color": "#f8f5ec",
        "theme_color": "#1c4a3a",
        "icons": icons,
    }
    return Response(json.dumps(told), mimetype="application/manifest+json")


@pages.get("/pack")
@allow("work a stop")
def pack() -> ResponseReturnValue:
    """The whole library, packed; 304 where the phone has it."""
    kept: _Pack = current_app.extensions.setdefault("latchbook-pack", _Pack())
    made = kept.of()
    return _packed(made.ways, made.tag)


@pages.get("/mine")
@allow("work a stop")
def mine() -> ResponseReturnValue:
    """One's own stops; asked for every ten seconds, 304 while nothing has changed."""
    instant, session = now(), g.session
    # Priority follows the clock, so the tag changes with the minute too.
    state = f"{county().record.version()} {county().folder.path} {session.account.login}"
    tag = _tag(f"{state} {session.csrf} {int(instant.timestamp() // 60)} {_library_state()}")
    if request.if_none_match.contains(tag):
        return _tagged(make_response("", 304), tag)
    told = fieldpack.stops(county().election(instant), session.account, session.csrf)
    text = json.dumps(told | {"pack": _tag(_library_state())}, ensure_ascii=False)
    return _packed({"gzip": gzip.compress(text.encode(), 5)}, tag)


class _Pack:
    """The packed library of one state: made once, and kept until the library changes.

    Brotli (RFC 7932) takes a quarter less than gzip, which a rover's line notices; browsers
    take it over a safe connection alone.
    """

    def __init__(self) -> None:
        self.state, self.tag, self.ways = "", "", {"br": b"", "gzip": b""}

    def of(self) -> _Pack:
        """The pack of the library in force."""
        state = _library_state()
        if self.state != state:
            text = json.dumps(fieldpack.library(county()), ensure_ascii=False).encode()
            # Assigned at the end: another thread sees the old one or the new one.
            self.ways = {"br": brotli.compress(text, quality=9), "gzip": gzip.compress(text, 9)}
            self.tag, self.state = _tag(state), state
        return self


def _library_state() -> str:
    return f"{county().library_version} {county().folder.path} {__version__}"


def _packed(ways: Mapping[str, bytes], tag: str) -> ResponseReturnValue:
    """The first of the ways that the browser takes; plain where it takes none."""
    if request.if_none_match.contains(tag):
        return _tagged(make_response("", 304), tag)
    way = next((name for name in ways if request.accept_encodings[name]), "")
    data = ways[way] if way else gzip.decompress(ways["gzip"])
    response = Response(data, mimetype="application/json")
    if way:
        response.headers["Content-Encoding"] = way
    response.headers["Vary"] = "Accept-Encoding, Cookie"
    return _tagged(response, tag)


def _tagged(response: Response, tag: str) -> Response:
    response.set_etag(tag)
    response.headers["Cache-Control"] = "private, no-cache"
    return response


def _tag(state: str) -> str:
    return hashlib.sha256(state.encode()).hexdigest()[:20]


@lru_cache(maxsize=1)
def _version() -> str:
    """One hash over all files of the shell, its template among them."""
    names = [HERE / "static" / name for name in FILES]
    names += [HERE / "static" / "field" / "worker.js", HERE / "templates" / "rounds" / "field.html"]
    return hashlib.sha256(b"".join(name.read_bytes() for name in names)).hexdigest()[:16]
