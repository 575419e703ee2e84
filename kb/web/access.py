"""Default closed: a page is reachable only by the permission written on it.

`allow("take calls")` marks a view; `guard` runs before every request and refuses what is not
marked. Changes (POST) must carry the session's form token, and come from our own origin.
"""

from __future__ import annotations

import hmac
import logging
from collections.abc import Callable
from typing import TypeVar

from flask import Flask, g, redirect, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import Refused, SignedOut
from kb.people import tries
from kb.people.roles import PERMISSIONS, ROLES, may
from kb.people.store import Session
from kb.people.traces import Refusal, network_of
from kb.web.county import county

log = logging.getLogger(__name__)
View = TypeVar("View", bound=Callable[..., ResponseReturnValue])

EVERYONE = "everyone"
SIGNED_IN = "signed in"
# Also for who has given a password and not yet the second factor.
HALF_SIGNED_IN = "half signed in"


def allow(permission: str) -> Callable[[View], View]:
    """Open a view to a permission of `roles.PERMISSIONS`, or to one of the constants above."""
    if permission not in PERMISSIONS and permission not in {EVERYONE, SIGNED_IN, HALF_SIGNED_IN}:
        raise ValueError(f"no permission is called '{permission}'")

    def mark(view: View) -> View:
        view.permission = permission  # type: ignore[attr-defined]
        return view

    return mark


def permission_of(app: Flask, endpoint: str | None) -> str | None:
    """The permission written on an endpoint; None where it has none (and so is closed)."""
    if endpoint == "static":
        return EVERYONE
    return getattr(app.view_functions.get(endpoint or ""), "permission", None)


def session_cookie() -> str:
    """The name of the session's cookie; `__Host-` needs Secure, so only behind TLS."""
    return "__Host-latchbook" if county().settings.trusted_proxy else "latchbook"


def form_cookie() -> str:
    """The name of the cookie that ties the sign-in form to its browser."""
    return f"{session_cookie()}-form"


def guard(app: Flask) -> ResponseReturnValue | None:
    """Before every request: find the session, hold the permission, hold the form token."""
    g.session = _session()
    if request.endpoint is None:
        return None  # answered as "not found", which tells nothing
    permission = permission_of(app, request.endpoint)
    if permission == EVERYONE:
        return None
    if g.session is None:
        # A script that asks for a part of a page must not be given the sign-in page for it.
        by_script = "X-Part" in request.headers
        if request.method == "GET" and permission is not None and not by_script:
            return redirect(url_for("signin.sign_in", next=request.full_path.rstrip("?")), 303)
        raise SignedOut(
            "You are not signed in, or your sign-in has run out, so this was not stored. Sign in "
            "in a new tab, then come back to this one, go one page back and send it again: what "
            "you typed is still there."
        )
    if not g.session.whole and permission != HALF_SIGNED_IN:
        return _ask_for_code()
    roles = g.session.account.roles
    if permission is None or (
        permission not in {SIGNED_IN, HALF_SIGNED_IN} and not may(roles, permission)
    ):
        log.warning("refused: %s %s to roles %s", request.method, request.endpoint, sorted(roles))
        raise Refused(_refusal(permission), permission or "no permission")
    if request.method not in {"GET", "HEAD"}:
        _hold_form_token(g.session.csrf)
    return None


def hold_signin_token() -> None:
    """The sign-in form has no session yet: its token must equal the one in its own cookie."""
    _hold_form_token(request.cookies.get(form_cookie(), ""))


def _session() -> Session | None:
    token = request.cookies.get(session_cookie())
    idle = county().settings.session_idle_hours
    return county().people.session(token, now(), idle) if token else None


def keep_refusal(login: str, rule: str) -> None:
    """Keep that somebody was refused: who, what, and from which part of the network."""
    place = network_of(request.remote_addr or "")
    address = str(request.url_rule or "-")
    county().people.traces.refuse(Refusal(now(), login, place, rule, address))


def keep_error(error: Refused | SignedOut) -> None:
    """Keep what a page or the guard refused; a link that only leads to sign-in is no refusal."""
    session = g.get("session")
    rule = error.rule if isinstance(error, Refused) else "signed out"
    keep_refusal(session.account.login if session else "", rule)


def source(purpose: str = "") -> str:
    """Where tries come from, as they are counted: sign-in, codes and changes each on their own."""
    return f"{purpose} {tries.source(request.remote_addr or '')}".strip()


def _ask_for_code() -> ResponseReturnValue:
    if request.method == "GET" and "X-Part" not in request.headers:
        return redirect(url_for("signin.second_factor", next=request.full_path.rstrip("?")), 303)
    raise SignedOut("Give the code of your authenticator first; then send this again.")


def _hold_form_token(expected: str) -> None:
    given = request.headers.get("X-Form-Token") or request.form.get("form_token", "")
    if not expected or not hmac.compare_digest(given.encode(), expected.encode()):
        raise Refused(
            "This form is from an earlier sign-in. Load its page again, and send it once more.",
            "form token",
        )
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in {"same-origin", "none"}:
        raise Refused("This form was sent from another site, so it was not taken.", "other site")


def _refusal(permission: str | None) -> str:
    who = PERMISSIONS.get(permission or "", frozenset())
    names = ", ".join(name for role, name in ROLES.items() if role in who)
    return (
        f"Your role may not do this. It is open to: {names or 'nobody'}. "
        "Ask an administrator if yours is wrong."
    )
