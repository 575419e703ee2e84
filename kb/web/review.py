"""Review: what stands out in an election, how it was found, and how it compares."""

from __future__ import annotations

import io
from importlib.resources import files

from flask import Blueprint, Response, render_template, request, send_file, url_for
from flask.typing import ResponseReturnValue
from markupsafe import Markup

from kb.base.errors import NotFound
from kb.exchange.report.tables import csv_of
from kb.incidents.lists import PHASES
from kb.review import store
from kb.review.figures import places, times
from kb.review.findings.board import quiet
from kb.review.findings.finding import number
from kb.review.measures.ratio import ratio
from kb.review.methods import BY_ID, METHODS
from kb.review.narrowing import PARTS
from kb.review.sections import Review
from kb.review.tables.table import Column, Value, shown
from kb.web import lookback
from kb.web.access import allow
from kb.web.county import county
from kb.web.lookback import Asked
from kb.web.shown import equipment_name, word

pages = Blueprint("review", __name__, url_prefix="/review")

# So many rows of a table stand on a page; the file has all.
ROWS = 250
# So many cases of a finding are named.
CASES = 200
# What two elections are held against each other by: words, where the number stands, its unit.
COMPARED = (
    ("Faults", "/totals/faults", ""),
    ("Faults per 1,000 ballots", "/rates/overall/rate", ""),
    ("Half of the faults over after", "/restore/overall/median", "min"),
    ("Voting stopped, all places", "/time_lost/places_total_minutes", "min"),
    ("Places without accessible voting for a while", "/time_lost/accessible", ""),
    ("Misfeeds", "/misfeeds/total", ""),
    ("Calls", "/hotline/offered", ""),
    ("Calls answered within 20 seconds", "/hotline/service_level", "%"),
    ("Cases whose custody record is not whole", "/custody/gaps", ""),
    ("Places that opened late", "/incomplete/late_openings", ""),
    ("Cases with a field missing or out of order", "/incomplete/count", ""),
)


@pages.get("")
@allow("review")
def board() -> ResponseReturnValue:
    """What stands out, in words; what does not; two figures; actions that are overdue."""
    wanted = lookback.asked()
    if wanted is None:
        return render_template("review/board.html", asked=None)
    seen = lookback.look(wanted)
    review, found = seen.review, seen.findings
    ids = _record_ids(wanted)
    today = lookback.today()
    actions = store.actions_of(county().record, county().record.elections())
    return render_template(
        "review/board.html",
        **_frame(wanted, review),
        findings=found,
        quiet=quiet(review, found),
        cases={
            one.key: [(case, ids.get(case, case)) for case in one.cases[:CASES]] for one in found
        },
        more_cases=CASES,
        figures=[made for made in (places.funnel(review), times.restored(review)) if made],
        rows={one.key: _narrowed(wanted) | dict(one.rows) for one in found},
        overdue=[one for one in actions if one.overdue(today)],
        actions={one.finding for one in actions if one.election == wanted.election.id},
    )


@pages.get("/methods/<method>")
@allow("review")
def method(method: str) -> ResponseReturnValue:
    """One method: what it asks, how, its figure, its tables."""
    chosen = BY_ID.get(method)
    if chosen is None:
        raise NotFound(f"No method is called '{method}'. The review lists them all.")
    wanted = lookback.asked_or_404()
    seen = lookback.look(wanted)
    review = seen.review
    found = [one for one in seen.findings if one.method == chosen.id]
    return render_template(
        "review/method.html",
        **_frame(wanted, review),
        method=chosen,
        findings=found,
        figures=chosen.drawn(review),
        tables=list(chosen.tables(review)),
        cell=_cell(wanted, review),
        rows=ROWS,
    )


@pages.get("/methods/<method>/<table>.csv")
@allow("review")
def table(method: str, table: str) -> ResponseReturnValue:
    """One table of a method as a file."""
    chosen, wanted = BY_ID.get(method), lookback.asked_or_404()
    made = chosen.tables(lookback.look(wanted).review) if chosen else iter(())
    found = next((one for one in made if one.name == table), None)
    if found is None:
        raise NotFound("There is no such table. The review lists its methods, each with tables.")
    name = f"{wanted.election.id}-{found.name}.csv"
    return send_file(
        io.BytesIO(csv_of(found)), mimetype="text/csv", as_attachment=True, download_name=name
    )


@pages.get("/compare")
@allow("review")
def compare() -> ResponseReturnValue:
    """Two elections side by side."""
    wanted = lookback.asked_or_404()
    record = county().record
    earlier = [one for one in record.elections() if one.date < wanted.election.date]
    chosen = request.args.get("with", earlier[-1].id if earlier else "")
    other = next((one for one in earlier if one.id == chosen), None)
    if other is None and earlier:
        # Another election was chosen in the same form: then the one before it.
        other = earlier[-1]
    review = lookback.look(wanted, against=other.id if other else "").review
    before = lookback.look(Asked(other, wanted.narrowing, so_far=False)).review if other else None
    lines = [
        (words, number(before.sections, where), number(review.sections, where), unit)
        for words, where, unit in COMPARED
        if before
    ]
    chosen_method = BY_ID["before-after"]
    return render_template(
        "review/compare.html",
        **_frame(wanted, review),
        earlier=earlier,
        other=other,
        lines=lines,
        overall=_overall(before, review) if before else None,
        figures=chosen_method.drawn(review) if other else [],
        tables=list(chosen_method.tables(review)) if other else [],
        cell=_cell(wanted, review),
    )


@pages.get("/plot.css")
@allow("review")
def style() -> ResponseReturnValue:
    """How figures look; the printed report carries the same."""
    return Response(_css(), mimetype="text/css")


def _css() -> str:
    return (files("kb.review.figures") / "plot.css").read_text(encoding="utf-8")


def _overall(before: Review, after: Review) -> dict[str, float | None]:
    """The ratio of the overall rates with its limits."""
    then, now_ = before.sections["rates"]["overall"], after.sections["rates"]["overall"]
    return vars(ratio(then["k"], then["exposure"], now_["k"], now_["exposure"]))


def _frame(wanted: Asked, review: Review) -> dict[str, object]:
    """What the head of each page of the review needs: the choices of its filter."""
    record = county().record
    return {
        "asked": wanted,
        "elections": record.elections(),
        "zones": sorted({place.zone for place in record.places() if place.zone}),
        "kinds": _kinds(review, wanted),
        "phases": PHASES,
        "parts": PARTS,
        "methods": METHODS,
        "totals": review.sections["totals"],
    }  # fmt: skip


def _narrowed(wanted: Asked) -> dict[str, str]:
    """What of the narrowing the register of incidents can filter by as well."""
    of = wanted.narrowing
    equipment, _, symptom = of.kind.partition("|")
    told = {"zone": of.zone, "phase": of.phase, "equipment": equipment, "symptom": symptom}
    return {name: value for name, value in told.items() if value}


def _kinds(review: Review, wanted: Asked) -> list[tuple[str, str]]:
    """The classes that are deployed or had a case, each followed by its symptoms, with words."""
    cases = review.material.cases
    classes = {case.equipment for case in cases} | set(review.material.deployed_count)
    symptoms: dict[str, set[str]] = {}
    for case in cases:
        symptoms.setdefault(case.equipment, set()).add(case.kind)
    if of := wanted.narrowing.kind:
        # What is chosen stays in the list, whatever else is left out by it.
        classes.add(of.partition("|")[0])
    found = []
    for name in sorted(classes):
        found.append((name, equipment_name(name)))
        found += [
            (one, f"– {word(one.partition('|')[2])}") for one in sorted(symptoms.get(name, ()))
        ]
    return found


def _record_ids(wanted: Asked) -> dict[str, str]:
    """The record's id of each case that a file called otherwise."""
    return {name: id_ for id_, name in county().record.file_names(wanted.election.id).items()}


def _cell(wanted: Asked, review: Review) -> object:
    """How a cell is shown: a place as a link to its story, a case to its page."""
    known, ids = review.material.places, _record_ids(wanted)
    cases = {case.id for case in review.material.cases}

    def cell(value: Value, column: Column) -> str:
        if column.kind == "place" and value in known:
            address = url_for("incidents.place", identifier=value, election=wanted.election.id)
            name = known[str(value)].name
            return Markup('<a href="{}">{} {}</a>').format(address, value, name)
        if column.kind == "text" and isinstance(value, str) and value in cases:
            address = url_for("incidents.incident", identifier=ids.get(value, value))
            return Markup('<a href="{}">{}</a>').format(address, value)
        return shown(value, column)

    return cell
