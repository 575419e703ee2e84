"""The worksheet of local rules: read by all, filled in, signed, frozen, changed by notice."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date

from flask import Blueprint, Response, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from kb.authoring import worksheet as rules
from kb.authoring.edits import Stale
from kb.authoring.manifest import manifest
from kb.authoring.sheet import Sheet, Signature, parse_sheet, sheet_yaml
from kb.authoring.worksheet import ACTS, IN_FORCE, Act, Entry, Worksheet
from kb.base.clock import local, now
from kb.base.errors import InputError, NotFound, Problems
from kb.library.ownwords import TERMS
from kb.web import sheets
from kb.web.access import allow
from kb.web.county import county
from kb.web.forms import Form
from kb.web.shown import zone

pages = Blueprint("worksheet", __name__, url_prefix="/worksheet")


@pages.get("")
@allow("read the library")
def show() -> ResponseReturnValue:
    """The sheet in force, its signature, and everything that was done."""
    election = sheets.election()
    if election is None:
        return render_template("worksheet/none.html")
    found = _found(election.id)
    return _page("worksheet/show.html", found, found.sheet, library=sheets.library_changes(found))


@pages.get("/fill")
@allow("fill the worksheet")
def fill() -> ResponseReturnValue:
    """The questions, to be answered."""
    found = _found(sheets.named_election().id)
    return _page("worksheet/fill.html", found, found.working, form=None, problems={})


@pages.post("/fill")
@allow("fill the worksheet")
def save() -> ResponseReturnValue:
    """Keep a draft, and go on to what it changes."""
    election = sheets.named_election().id
    form = Form()
    sheet, status = sheets.read(form, election), 422
    if sheet is not None:
        try:
            _take(election, lambda before, act: rules.save(before, act, sheet))
        except Stale as error:
            # Shown beside what was typed; sent once more it takes the place of the other's.
            form.problems["main"], status = str(error), error.http_status
        else:
            return redirect(url_for("worksheet.check", election=election), 303)
    found = _found(election)
    shown = _page("worksheet/fill.html", found, found.working, form=form, problems=form.problems)
    return shown, status


@pages.post("/upload")
@allow("fill the worksheet")
def upload() -> ResponseReturnValue:
    """Take a sheet's file as the draft. Raises Problems with every fault of it."""
    election = sheets.named_election().id
    file = request.files.get("file")
    if file is None or not file.filename:
        raise InputError("Pick the worksheet's file first.")
    try:
        text = file.read().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{file.filename} is not UTF-8 text: {error}. Save it as UTF-8.") from None
    sheet, problems = parse_sheet(text, file.filename, county().library.rules.questions)
    if sheet is None:
        raise Problems(problems)
    if sheet.election != election:
        raise InputError(
            f"{file.filename} is for the election '{sheet.election}', not for '{election}'. "
            "Choose that election here, or change the file's first line."
        )
    _take(election, lambda before, act: rules.save(before, act, sheet))
    return redirect(url_for("worksheet.check", election=election), 303)


@pages.get("/file")
@allow("fill the worksheet")
def file() -> ResponseReturnValue:
    """The sheet as a file to be filled in, each question above its answer."""
    found = _found(sheets.named_election().id)
    return _download(sheet_yaml(found.working, county().library.rules), found.election)


@pages.get("/kept/<identifier>")
@allow("read the library")
def kept(identifier: str) -> ResponseReturnValue:
    """A sheet that is or was in force, as the file that its SHA-256 is of."""
    entry = county().folder.worksheet.entry(_number(identifier))
    if entry.act not in IN_FORCE:
        raise NotFound("That worksheet was never in force. The page lists those that were.")
    return _download(entry.text, f"{entry.election}-{entry.number}")


@pages.get("/paper")
@allow("fill the worksheet")
def paper() -> ResponseReturnValue:
    """The sheet to be printed, with boxes and lines for a signature."""
    found = _found(sheets.named_election().id)
    return _page("worksheet/paper.html", found, found.working)


@pages.get("/check")
@allow("fill the worksheet")
def check() -> ResponseReturnValue:
    """What the draft changes in which articles, before it is signed or asked for."""
    return _check(_found(sheets.named_election().id))


@pages.post("/sign")
@allow("fill the worksheet")
def sign() -> ResponseReturnValue:
    """Enter counsel's signature; the sheet is in force at once."""
    election = sheets.named_election().id
    form = Form()
    by = form.text("by", "Write who signed it.", 120)
    office = form.text("office", "Write the signer's office, such as County counsel.", 120)
    day = _day(form)
    if form.problems or day is None:
        return _check(_found(election), form), 422
    signature = Signature(by, office, day)
    _take(election, lambda before, act: rules.sign(before, act, signature))
    return redirect(url_for("worksheet.show", election=election), 303)


@pages.post("/freeze")
@allow("fill the worksheet")
def freeze() -> ResponseReturnValue:
    """Bind the signed sheet and the library as it is to the election."""
    election = sheets.named_election().id
    listed = manifest(county().library)
    _take(election, lambda before, act: rules.freeze(before, act, listed))
    return redirect(url_for("worksheet.show", election=election), 303)


@pages.post("/ask")
@allow("fill the worksheet")
def ask() -> ResponseReturnValue:
    """Ask for a change after the freeze."""
    election = sheets.named_election().id
    form = Form()
    reason = form.text("reason", "Say why it changes on the day; the record keeps it.")
    if form.problems:
        return _check(_found(election), form), 422
    after = _take(election, lambda before, act: rules.ask(before, act, reason))
    return redirect(url_for("worksheet.notice", identifier=after.last), 303)


@pages.get("/notices/<identifier>")
@allow("fill the worksheet")
def notice(identifier: str) -> ResponseReturnValue:
    """One notice for the second person: what changes, why, approve or decline."""
    return _notice(_number(identifier))


@pages.post("/notices/<identifier>")
@allow("fill the worksheet")
def decide(identifier: str) -> ResponseReturnValue:
    """Approve a notice, and it is in force at once; or decline it."""
    asked = county().folder.worksheet.entry(_number(identifier))
    form, number = Form(), asked.number
    approve = form.text("do") == "approve"
    reason = form.text("reason", "" if approve else "Say why it is declined; who asked sees it.")
    if form.problems:
        return _notice(number, form.problems), 422
    _take(
        asked.election,
        lambda before, act: rules.decide(before, act, number, approve=approve, reason=reason),
    )
    return redirect(url_for("worksheet.show", election=asked.election), 303)


def _check(found: Worksheet, form: Form | None = None) -> str:
    signed = found.draft.sheet.signed if found.draft else None
    known = {"by": signed.by, "office": signed.office} if signed else {}
    today = local(now(), zone()).date()
    values: Mapping[str, object] = {"date": signed.date if signed else today, **known}
    return _page(
        "worksheet/check.html",
        found,
        found.working,
        changes=sheets.changes(found.sheet, found.working),
        new_words=sheets.new_words(found.sheet, found.working),
        typed=form.typed if form else values,
        problems=form.problems if form else {},
    )


def _notice(number: int, problems: Mapping[str, str] | None = None) -> str:
    entry = county().folder.worksheet.entry(number)
    found = _found(entry.election)
    one = found.notice(number)
    before = rules.fold(found.election, [e for e in found.entries if e.number < number]).sheet
    return _page(
        "worksheet/notice.html",
        found,
        entry.sheet,
        notice=one,
        mine=entry.by == g.session.account.login,
        changes=sheets.changes(before, entry.sheet),
        new_words=sheets.new_words(before, entry.sheet),
        problems=problems or {},
    )


def _page(template: str, found: Worksheet, sheet: Sheet, **values: object) -> str:
    return render_template(
        template,
        worksheet=found,
        sheet=sheet,
        election=county().record.election(found.election),
        elections=county().record.elections(),
        groups=sheets.groups(sheet),
        missing=sheet.missing(county().library.rules),
        acts=ACTS,
        in_force=IN_FORCE,
        terms=TERMS,
        fields=sheets.FIELDS,
        choices=sheets.CHOICES,
        **values,
    )


def _found(election: str) -> Worksheet:
    return county().folder.worksheet.worksheet(election)


def _take(election: str, rule: Callable[[Worksheet, Act], Entry]) -> Worksheet:
    """Let the person who sends this form do something, having seen what their page showed."""
    seen = _number(request.form["seen"]) if "seen" in request.form else None
    # The rule runs in the writer's thread, which knows of no request.
    act = Act(g.session.account.login, now(), seen)
    after = county().folder.worksheet.take(election, lambda before: rule(before, act))
    county().renew()
    return after


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else -1


def _day(form: Form) -> date | None:
    need = "Write the day on which it was signed, such as 2026-10-01."
    text = form.text("date", need)
    try:
        return date.fromisoformat(text)
    except ValueError:
        form.problems["date"] = need
        return None


def _download(text: str, name: str) -> Response:
    response = Response(text, mimetype="application/yaml")
    response.headers.set("Content-Disposition", "attachment", filename=f"local-rules-{name}.yaml")
    return response
