"""People: accounts, one-time links, slips, sessions, roles, refusals; and one's own account."""

from __future__ import annotations

from datetime import timedelta

from flask import Blueprint, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.base.errors import InputError, Refused
from kb.exchange import cells
from kb.people import codes
from kb.people.accounts import Account
from kb.people.roles import PERMISSIONS, ROLES
from kb.people.sessions import Session
from kb.people.store import LINK_HOURS
from kb.web.access import SIGNED_IN, allow, keep_refusal, source
from kb.web.county import county
from kb.web.forms import Form
from kb.web.shown import qr

pages = Blueprint("people", __name__)


@pages.get("/office/people")
@allow("manage people")
def board() -> ResponseReturnValue:
    """Everybody with an account; by words and by role."""
    text = request.args.get("text", "").strip()[:80].casefold()
    role = request.args.get("role", "")
    found = [
        person
        for person in county().people.all()
        if (not text or text in f"{person.login} {person.name} {person.zone}".casefold())
        and (not role or role in person.roles)
    ]
    return render_template(
        "people/board.html",
        people=found,
        without=[one for one in county().people.all() if _is_new(one)],
        text=text,
        role=role,
        role_names=ROLES,
    )


@pages.get("/office/people/new")
@allow("manage people")
def new() -> ResponseReturnValue:
    """The form for one more person."""
    return _edit(None, None)


@pages.post("/office/people/new")
@allow("manage people")
def add() -> ResponseReturnValue:
    """Add a person; a one-time link comes next."""
    form = Form()
    login = form.text("login", "Choose a login: letters, digits and dots, no spaces.", 64)
    try:
        cells.identifier(login or "x")
    except ValueError as error:
        form.problems["login"] = f"{error}."
    if login in {person.login for person in county().people.all()}:
        form.problems["login"] = f"The login {login} is taken already. Choose another."
    account = _read(form, login)
    if form.problems:
        return _edit(None, form)
    county().people.put(account, by=_me())
    return redirect(url_for("people.person", login=login), 303)


@pages.get("/office/people/<login>")
@allow("manage people")
def person(login: str) -> ResponseReturnValue:
    """One person: what they may do, where they are signed in, what was done to the account."""
    return _person(login)


@pages.post("/office/people/<login>")
@allow("manage people")
def change(login: str) -> ResponseReturnValue:
    """Change name, roles, zone or phone."""
    before, form = county().people.get(login), Form()
    account = _read(form, login)
    if form.problems:
        return _edit(before, form)
    county().people.put(account, by=_me())
    return redirect(url_for("people.person", login=login, done="changed"), 303)


@pages.get("/office/people/<login>/change")
@allow("manage people")
def edit(login: str) -> ResponseReturnValue:
    """The form with what is known."""
    return _edit(county().people.get(login), None)


@pages.post("/office/people/<login>/link")
@allow("manage people")
def link(login: str) -> ResponseReturnValue:
    """A one-time link, shown once, to be handed over in person; older ones end."""
    token = county().people.make_link(login, now(), by=_me())
    return _person(login, address=_address(token))


@pages.post("/office/people/<login>/disable")
@allow("manage people")
def disable(login: str) -> ResponseReturnValue:
    """Shut the account: sessions and links end at once."""
    county().people.disable(login, _me(), _reason())
    return redirect(url_for("people.person", login=login), 303)


@pages.post("/office/people/<login>/enable")
@allow("manage people")
def enable(login: str) -> ResponseReturnValue:
    """Open it again."""
    county().people.enable(login, _me(), _reason())
    return redirect(url_for("people.person", login=login), 303)


@pages.post("/office/people/<login>/sign-out")
@allow("manage people")
def sign_out(login: str) -> ResponseReturnValue:
    """End all of a person's sessions."""
    county().people.sign_out_everywhere(login, _me())
    return redirect(url_for("people.person", login=login), 303)


@pages.post("/office/people/<login>/factor")
@allow("manage people")
def take_off_factor(login: str) -> ResponseReturnValue:
    """Take a lost authenticator off; never one's own."""
    if login == _me():
        raise Refused("Another administrator takes your own second step off, not you yourself.")
    county().people.get(login)
    county().people.factors.take_off(login, _me(), _reason())
    return redirect(url_for("people.person", login=login), 303)


@pages.post("/office/people/slips")
@allow("manage people")
def slips() -> ResponseReturnValue:
    """A printed slip with a one-time link for each person who has no password yet."""
    fresh = [one for one in county().people.all() if _is_new(one)]
    if not fresh:
        raise InputError("Everybody has a password already; there is no slip to print.")
    return _slips(fresh)


@pages.post("/office/people/<login>/slip")
@allow("manage people")
def slip(login: str) -> ResponseReturnValue:
    """A printed slip with a one-time link for one person; older links end."""
    return _slips([county().people.get(login)])


@pages.get("/office/roles")
@allow("see the office")
def roles() -> ResponseReturnValue:
    """The one table of who may do what."""
    return render_template("people/roles.html", permissions=PERMISSIONS, role_names=ROLES)


@pages.get("/office/refusals")
@allow("manage people")
def refusals() -> ResponseReturnValue:
    """What was refused, newest first."""
    return render_template("people/refusals.html", refusals=county().people.traces.refusals())


@pages.get("/account")
@allow(SIGNED_IN)
def mine() -> ResponseReturnValue:
    """One's own account: where one is signed in."""
    login = _me()
    return render_template(
        "people/mine.html",
        sessions=_sessions(login),
        factor=county().people.factors.secret(login) is not None,
        codes_left=county().people.factors.codes_left(login),
        role_names=ROLES,
    )


@pages.post("/account/password")
@allow(SIGNED_IN)
def change_password() -> ResponseReturnValue:
    """Change one's own password; all sessions end, this one too."""
    typed, login, traces = request.form, _me(), county().people.traces
    address = source("change")
    if traces.free_again(login, address, now()) is not None:
        keep_refusal(login, "too many tries")
        raise InputError("There were too many wrong tries. Wait a quarter of an hour.")
    if typed.get("new", "") != typed.get("again", ""):
        raise InputError("The two entries of the new password differ. Go back and type it twice.")
    name = county().settings.county
    if not county().people.change_password(login, typed.get("old", ""), typed.get("new", ""), name):
        traces.count_try(login, address, now())
        keep_refusal(login, "wrong present password")
        raise InputError("The present password is not right. Go back and type it again.")
    return redirect(url_for("signin.sign_in"), 303)


@pages.post("/account/sessions/<mark>/end")
@allow(SIGNED_IN)
def end_session(mark: str) -> ResponseReturnValue:
    """End one of one's own sessions."""
    county().people.end_session(_me(), mark)
    return redirect(url_for("people.mine"), 303)


def _read(form: Form, login: str) -> Account:
    """The account of the form. Every fault is in `form.problems`."""
    chosen = frozenset(form.choices("roles", ROLES))
    if not chosen:
        form.problems["roles"] = "Tick at least one role."
    phone = form.text("phone")
    try:
        cells.phone(phone)
    except ValueError as error:
        form.problems["phone"] = f"{error}."
    name = form.text("name", "Type the person's name.")
    return Account(login, name, chosen, form.text("zone"), phone)


def _reason() -> str:
    reason = " ".join(request.form.get("reason", "").split())[:500]
    if not reason:
        raise InputError("Say why: it stands in the account's history. Go back and fill it in.")
    return reason


def _slips(people: list[Account]) -> ResponseReturnValue:
    at = now()
    made = [(one, _address(county().people.make_link(one.login, at, by=_me()))) for one in people]
    return render_template(
        "people/slips.html",
        slips=[(one, address, qr(address)) for one, address in made],
        until=at + timedelta(hours=LINK_HOURS),
    )


def _is_new(person: Account) -> bool:
    return not person.disabled and not county().people.has_password(person.login)


def _sessions(login: str) -> list[Session]:
    return county().people.sessions(login, now(), county().settings.session_idle_hours)


def _me() -> str:
    return str(g.session.account.login)


def _address(token: str) -> str:
    return url_for("signin.first_password", token=token, _external=True)


def _person(login: str, address: str = "") -> ResponseReturnValue:
    people = county().people
    found = people.get(login)
    return render_template(
        "people/person.html",
        person=found,
        address=address,
        hours=LINK_HOURS,
        has_password=people.has_password(login),
        needs_factor=bool(found.roles & codes.ROLES) and county().settings.second_factor,
        factor=people.factors.secret(login) is not None,
        sessions=_sessions(login),
        changes=people.traces.changes(login),
        role_names=ROLES,
    )


def _edit(before: Account | None, form: Form | None) -> ResponseReturnValue:
    return render_template(
        "people/edit.html",
        before=before,
        problems=form.problems if form else {},
        typed=form.typed if form else {},
        ticked=form.choices("roles", ROLES) if form else before.roles if before else (),
        form=form,
        role_names=ROLES,
    ), (422 if form else 200)
