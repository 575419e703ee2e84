"""Writes the after-action report: report.html, and the bundle of its tables beside it."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from kb.base.clock import now
from kb.base.errors import InputError
from kb.exchange.bundle_store import described
from kb.exchange.report.contents import RATINGS, Contents, contents
from kb.incidents.actions import Action
from kb.incidents.places import Election
from kb.incidents.store.folder import Folder
from kb.review import store
from kb.review.sections import Review
from kb.review.tables.table import Column, Value, shown

REPORT = "report.html"
BUNDLE = "bundle"


def write(folder: Folder, election: Election, out: Path) -> list[Path]:
    """Write the report of an election into a folder, made where there is none.

    Returns the files written. Raises InputError where the folder holds something else already,
    and then nothing is written.
    """
    made = files_of(folder, election)
    if out.exists() and (not out.is_dir() or _foreign(out, set(made))):
        raise InputError(f"{out} holds other files. Name a new or empty folder for the report.")
    written = []
    for name, data in made.items():
        path = out / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        written.append(path)
    return written


def files_of(folder: Folder, election: Election, found: Review | None = None) -> dict[str, bytes]:
    """The report and the tables behind it, by their names; `found`: the review, if there is one.

    Nothing of the record itself: that is given out by those who may take it out.
    """
    seen = found or store.reviewed(folder.record, election, now())
    told = made_of(folder, election, seen)
    tables = described(election, seen)
    return {REPORT: html(told)} | {f"{BUNDLE}/{name}": data for name, data in tables.items()}


def made_of(folder: Folder, election: Election, found: Review) -> Contents:
    """What the report says, with the actions known up to now."""
    today = now().astimezone(found.material.zone).date()
    return contents(folder.settings.county, today, found, _actions(folder, election))


def html(told: Contents) -> bytes:
    """The report as one file that needs nothing else."""
    page = _templates().get_template("report/report.html")
    css = _text("report/report.css") + (files("kb.review.figures") / "plot.css").read_text("utf-8")
    return page.render(told=told, cell=cell_of(told), ratings=RATINGS, css=Markup(css)).encode()  # noqa: S704 - our own style sheets


def cell_of(told: Contents) -> object:
    """How a cell of a table is shown on paper: a place with its name."""
    places = told.review.material.places

    def cell(value: Value, column: Column) -> str:
        if column.kind == "place" and value in places:
            return f"{value} {places[str(value)].name}"
        return shown(value, column)

    return cell


def _actions(folder: Folder, election: Election) -> list[Action]:
    """Actions of this election and those carried over from earlier ones."""
    record = folder.record
    known = [one for one in record.elections() if one.date <= election.date]
    told = store.actions_of(record, known)
    return [one for one in told if one.election == election.id or one.open]


def _foreign(out: Path, ours: set[str]) -> bool:
    return any(
        path.is_file() and path.relative_to(out).as_posix() not in ours for path in out.rglob("*")
    )


def _templates() -> Environment:
    return Environment(
        loader=PackageLoader("kb.exchange.report", "templates"),
        autoescape=select_autoescape(),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _text(name: str) -> str:
    return (files("kb.exchange.report") / "templates" / name).read_text(encoding="utf-8")
