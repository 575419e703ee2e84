"""Sign in, sign out, and the one-time link with which a person sets their password."""

from __future__ import annotations

from datetime import datetime

from flask import Blueprint, Response, g, make_response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.wrappers import Response as BaseResponse

from kb.base.clock import now
from kb.base.errors import InputError, NotFound
from kb.base.ids import new_token
from kb.people import codes
from kb.people.roles import may
from kb.people.sessions import device_of
from kb.web.access import (
    EVERYONE,
    HALF_SIGNED_IN,
    SIGNED_IN,
    allow,
    form_cookie,
    hold_signin_token,
    keep_refusal,
    session_cookie,
    source,
)
from kb.web.county import county
from kb.web.forms import inside
from kb.web.shown import clock, qr

pages = Blueprint("signin", __name__)

# Where each kind of work begins; the first that the person may do is their home.
HOMES = (
    ("take calls", "calls.board"),
    ("watch the day", "now.board"),
    ("work a stop", "rounds.stops"),
    ("see the office", "office.board"),
    ("review", "review.board"),
    ("read the library", "library.browse"),
)

LINK_GONE = "This link was used, or is over two days old. Ask an administrator for a new one."


@pages.get("/")
@allow(SIGNED_IN)
def home() -> ResponseReturnValue:
    """Send a person to the page their work begins on."""
    roles = g.session.account.roles
    if roles == {"manager"}:
        return redirect(url_for("now.board"))
    return redirect(url_for(next(page for permission, page in HOMES if may(roles, permission))))


@pages.get("/sign-in")
@allow(EVERYONE)
def sign_in() -> ResponseReturnValue:
    """The form."""
    return _form(login="", error="", status=200)


@pages.post("/sign-in")
@allow(EVERYONE)
def take_sign_in() -> ResponseReturnValue:
    """Check login and password; the answer does not say which of the two was wrong."""
    hold_signin_token()
    login, settings = request.form.get("login", "").strip()[:100], county().settings
    traces, address = county().people.traces, source()
    if (free := traces.free_again(login, address, now())) is not None:
        keep_refusal(login, "too many tries")
        return _form(login, _too_many(free), 429)
    made = county().people.sign_in(
        login,
        request.form.get("password", ""),
        now(),
        settings.session_hours,
        device=device_of(request.headers.get("User-Agent", "")),
        second_factor=settings.second_factor,
    )
    if made is None:
        traces.count_try(login, address, now())
        keep_refusal(login, "wrong login or password")
        return _form(
            login, "Login and password do not fit together. Check both and try again.", 403
        )
    onward = _inside(request.form.get("next", ""))
    if made.whole:
        traces.went_well(login, address, now())
    else:
        onward = url_for("signin.second_factor", next=onward)
    if before := request.cookies.get(session_cookie()):
        county().people.sign_out(before)
    response = _with_session(redirect(onward, 303), made.token)
    response.delete_cookie(form_cookie(), secure=settings.trusted_proxy, httponly=True)
    return response


@pages.get("/second-factor")
@allow(HALF_SIGNED_IN)
def second_factor() -> ResponseReturnValue:
    """Ask for the code, or set the authenticator up where there is none yet."""
    if g.session.whole:
        return redirect(_inside(request.args.get("next", "")), 303)
    return _factor_page("", 200)


@pages.post("/second-factor")
@allow(HALF_SIGNED_IN)
def take_code() -> ResponseReturnValue:
    """Take a code of the authenticator, or a recovery code."""
    login, code = g.session.account.login, request.form.get("code", "")[:40]
    traces, factors = county().people.traces, county().people.factors
    address = source("code")
    if (free := traces.free_again(login, address, now())) is not None:
        keep_refusal(login, "too many codes")
        return _factor_page(_too_many(free), 429)
    fresh: list[str] | None = None
    if factors.secret(login) is None:
        fresh = factors.set_up(login, request.form.get("secret", ""), code, now())
        token = factors.whole(g.session, now(), county().settings.session_hours) if fresh else None
    else:
        token = factors.give_code(g.session, code, now(), county().settings.session_hours)
    if token is None:
        traces.count_try(login, address, now())
        keep_refusal(login, "wrong code")
        return _factor_page("This code does not fit, or was used already. Take the next one.", 403)
    for one in (address, source()):
        traces.went_well(login, one, now())
    onward = _inside(request.form.get("next", ""))
    if fresh is None:
        return _with_session(redirect(onward, 303), token)
    page = render_template("recovery-codes.html", codes=fresh, onward=onward)
    return _with_session(make_response(page), token)


@pages.post("/sign-out")
@allow(HALF_SIGNED_IN)
def sign_out() -> ResponseReturnValue:
    """End this session on the server, not only in the browser."""
    county().people.sign_out(request.cookies[session_cookie()])
    response = redirect(url_for("signin.sign_in"), 303)
    response.delete_cookie(session_cookie(), secure=county().settings.trusted_proxy, httponly=True)
    return response


@pages.get("/first-password/<token>")
@allow(EVERYONE)
def first_password(token: str) -> ResponseReturnValue:
    """The page behind a one-time link."""
    return _password_form(_link_login(token), "", 200)


@pages.post("/first-password/<token>")
@allow(EVERYONE)
def take_first_password(token: str) -> ResponseReturnValue:
    """Set the password; the link is used up by it."""
    hold_signin_token()
    login = _link_login(token)
    password = request.form.get("password", "")
    if password != request.form.get("again", ""):
        return _password_form(login, "The two entries differ. Type the same password twice.", 422)
    try:
        used = county().people.use_link(token, password, now(), county().settings.county)
    except InputError as error:
        return _password_form(login, str(error), 422)
    if used is None:
        # Somebody else used it up in between.
        raise NotFound(LINK_GONE)
    # The link came from an administrator: wrong tries of before no longer stand in the way.
    county().people.traces.went_well(login, source(), now())
    return redirect(url_for("signin.sign_in"), 303)


def _link_login(token: str) -> str:
    login = county().people.link_login(token, now())
    if login is None:
        raise NotFound(LINK_GONE)
    return login


def _form(login: str, error: str, status: int) -> Response:
    onward = request.values.get("next", "")
    return _with_form_cookie("sign-in.html", status, login=login, error=error, onward=onward)


def _password_form(login: str, error: str, status: int) -> Response:
    return _with_form_cookie("first-password.html", status, login=login, error=error)


def _with_form_cookie(template: str, status: int, **values: str) -> Response:
    # The same one while it lasts, so that a second tab does not spoil the form of the first.
    token = request.cookies.get(form_cookie()) or new_token()
    response = make_response(render_template(template, form_token=token, **values), status)
    response.set_cookie(
        form_cookie(),
        token,
        httponly=True,
        samesite="Strict",
        secure=county().settings.trusted_proxy,
    )
    return response


def _factor_page(error: str, status: int) -> ResponseReturnValue:
    login = g.session.account.login
    known = county().people.factors.secret(login) is not None
    typed = request.form.get("secret", "")
    # The same secret again after a wrong code: it was scanned already.
    secret = "" if known else (typed if codes.is_secret(typed) else codes.new_secret())
    return render_template(
        "second-factor.html",
        known=known,
        secret=secret,
        code=qr(codes.address(secret, login, county().settings.county)) if secret else "",
        error=error,
        onward=request.values.get("next", ""),
    ), status


def _too_many(free: datetime) -> str:
    return (
        f"There were too many wrong tries. Try again at {clock(free)}, or ask an administrator "
        "for a new one-time link."
    )


def _with_session(response: BaseResponse, token: str) -> BaseResponse:
    settings = county().settings
    response.set_cookie(
        session_cookie(),
        token,
        httponly=True,
        samesite="Lax",
        path="/",
        secure=settings.trusted_proxy,
        max_age=int(settings.session_hours * 3600),
    )
    return response


def _inside(target: str) -> str:
    """A path of our own, never another site's address."""
    return inside(target) or url_for("signin.home")
