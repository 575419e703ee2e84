"""The application: pages, guard, headers, one handler for told errors, one log line a request."""

from __future__ import annotations

import logging
import time

from flask import Flask, Response, g, render_template, request
from flask.typing import ResponseReturnValue
from jinja2 import ChoiceLoader, PackageLoader
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]
from werkzeug.exceptions import HTTPException, InternalServerError
from werkzeug.middleware.proxy_fix import ProxyFix

from kb import __version__
from kb.base.errors import LatchbookError, Problems, Refused, SignedOut
from kb.review.findings.measured import measured
from kb.web import (
    access,
    accounting,
    actions,
    callhands,
    calls,
    conflict,
    copies,
    corrections,
    countywide,
    decisions,
    draft,
    field,
    holds,
    incidents,
    learning,
    library,
    line,
    notices,
    now,
    office,
    outbox,
    packing,
    paper,
    people,
    pictures,
    printing,
    proof,
    reading,
    redactions,
    report,
    review,
    rollcall,
    rounds,
    sending,
    shown,
    signin,
    telling,
    texts,
    worksheet,
    write,
)
from kb.web.access import EVERYONE, allow
from kb.web.county import EXTENSION, County, county

log = logging.getLogger(__name__)

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
        "connect-src 'self'; worker-src 'self'; manifest-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
GROUPS = (
    signin, calls, field, rounds, now, incidents, library, write, draft, reading, conflict, review,
    office, actions, report,
    worksheet, learning, printing, proof, outbox, accounting, paper, people, corrections,
    redactions, decisions, holds, copies, line,
    rollcall, sending, notices, countywide, callhands, pictures,
)  # fmt: skip
LARGEST_FORM = 256 * 1024


def create_app(opened: County) -> Flask:
    """An application that serves one county."""
    app = Flask(__name__)
    app.extensions[EXTENSION] = opened
    app.config["MAX_CONTENT_LENGTH"] = LARGEST_FORM
    # Parts that pages share with the printed report.
    own = PackageLoader("kb.web", "templates")
    app.jinja_loader = ChoiceLoader([own, PackageLoader("kb.exchange.report", "templates")])
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    if opened.settings.trusted_proxy:
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=1, x_proto=1, x_host=1)  # type: ignore[method-assign]
    for group in GROUPS:
        app.register_blueprint(group.pages)
    app.add_url_rule("/health", view_func=health)
    app.before_request(_start_clock)
    app.before_request(_renew)
    app.before_request(lambda: access.guard(app))
    app.after_request(_finish)
    app.register_error_handler(LatchbookError, _told)
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(sqlite3.Error, _database)
    shown.register(app)
    app.context_processor(lambda: {"unread_notices": notices.unread_now})
    for view in (
        telling.entry_words,
        telling.body_words_of,
        telling.mark_words,
        telling.step_heading,
        telling.tree_title,
        texts.title_of,
        texts.upgraded,
        measured,
    ):
        app.add_template_filter(view)
    return app


@allow(EVERYONE)
def health() -> ResponseReturnValue:
    """For a watching machine: the database answers."""
    county().record.version()
    return {"status": "ok", "version": __version__}


def _renew() -> None:
    """Take up what another program, such as the command line, changed in the folder."""
    if request.endpoint not in {"static", "health"}:
        county().renew()


def _start_clock() -> None:
    g.started = time.perf_counter()


def _finish(response: Response) -> Response:
    response.headers.update(HEADERS)
    if request.endpoint == "static":
        response.cache_control.no_cache = None
        response.cache_control.max_age = 3600
        packing.pack(response)
    else:
        response.headers.setdefault("Cache-Control", "no-store")
    if county().settings.trusted_proxy:
        response.headers["Strict-Transport-Security"] = "max-age=31536000"
    session = g.get("session")
    roles = ",".join(sorted(session.account.roles)) if session else "-"
    # The rule, not the address: an address can carry a caller's words.
    log.info(
        "%s %s %s %.0fms %s",
        request.method,
        request.url_rule or "-",
        response.status_code,
        1000 * (time.perf_counter() - g.get("started", time.perf_counter())),
        roles,
    )
    return response


def _told(error: LatchbookError) -> ResponseReturnValue:
    if isinstance(error, (Refused, SignedOut)):
        access.keep_error(error)
    faults = [str(problem) for problem in error.problems] if isinstance(error, Problems) else []
    return _error_page(error.http_status, "" if faults else str(error), faults)


def _database(error: Exception) -> ResponseReturnValue:
    log.error("the database cannot be read: %s", error)
    message = (
        "The database cannot be read just now, so this page cannot be shown. What was stored "
        "before is in it or in a backup. Write down what you have, tell whoever keeps the "
        "server, and try once more."
    )
    return _error_page(503, message, [])


def _http(error: HTTPException) -> ResponseReturnValue:
    if error.code == 404:
        return _error_page(
            404, "There is no such page here. Check the address, or start from the top.", []
        )
    if error.code == 405:
        return _error_page(
            405, "This address takes another kind of request. Start from the top.", []
        )
    if error.code == 413:
        return _error_page(413, "What was sent is too large. Shorten it and send it again.", [])
    if isinstance(error, InternalServerError):
        message = (
            "This is a defect of the program, and it is in the server's log. What was stored "
            "before is safe. Go back and try once more; if it happens again, write it on paper."
        )
        return _error_page(500, message, [])
    return error


def _error_page(status: int, message: str, faults: list[str]) -> ResponseReturnValue:
    titles = {
        401: "Signed out",
        403: "Not allowed",
        404: "Not found",
        422: "Please check",
        400: "Please check",
    }
    title = titles.get(status, "That did not work")
    return render_template("error.html", title=title, message=message, faults=faults), status
