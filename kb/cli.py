"""The command line: thin, calls the same functions as the pages."""

from __future__ import annotations

import contextlib
import json
import logging
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb import __version__
from kb.base.clock import local, now
from kb.base.errors import InputError, LatchbookError, StateError

if TYPE_CHECKING:
    from kb.incidents.store.folder import Folder
    from kb.library.article import Library
    from kb.people.accounts import Account
    from kb.search.documents import Document
    from kb.search.hits import Answer
    from kb.search.index import Index
    from kb.search.store import KeptVectors

# The actor in the ledger of what the command line imports.
COMMAND_LINE = "command-line"

data_option = click.option(
    "--data",
    type=click.Path(path_type=Path),
    envvar="LATCHBOOK_DATA",
    help="The county's data folder; also from LATCHBOOK_DATA.",
)
library_option = click.option(
    "--library",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Another folder of articles than the shipped one.",
)
port_option = click.option(
    "--port",
    default=8000,
    show_default=True,
    type=click.IntRange(0, 65535),
    help="0 takes a free port.",
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


class Told(click.Group):
    """A group whose commands end with status 1 and a plain message for an error of the input."""

    def invoke(self, ctx: click.Context) -> object:
        """Run the command."""
        try:
            return super().invoke(ctx)
        except LatchbookError as error:
            click.echo(f"latchbook: {error}", err=True)
            sys.exit(1)


@click.group(cls=Told, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="latchbook")
def main() -> None:
    """Find the fix, walk it, log it, look back: election-day equipment trouble of a county."""


@main.command()
@port_option
def demo(port: int) -> None:
    """Serve an invented county on an election day, in a temporary folder.

    Example: latchbook demo --port 0
    """
    from kb.demo.build import build
    from kb.library.store import shipped
    from kb.people.roles import ROLES
    from kb.search.store import kept_for

    with tempfile.TemporaryDirectory(prefix="latchbook-demo-") as name:
        path = Path(name) / "county"
        county = build(path, datetime.now().astimezone())
        there = local(now(), county.zone)
        click.echo(f"An invented county on its election day. Its clocks show {there:%H:%M}.")
        click.echo("Sign in as one of these; the password is the same for all:\n")
        for one in county.sign_ins:
            click.echo(f"  {ROLES[one.role]:<15} {one.login:<22} {one.password}")
        click.echo()
        # The folder does not last; vectors kept for this user do.
        _serve(path, "127.0.0.1", port, kept_for(shipped()))


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
def init(folder: Path) -> None:
    """Make an empty data folder and a one-time link for its first administrator.

    Example: latchbook init /srv/latchbook
    """
    from kb.incidents.store.folder import create, open_folder
    from kb.people.accounts import Account

    create(folder)
    opened = open_folder(folder)
    opened.people.put(Account("admin", "Administrator", frozenset({"administrator"})))
    token = opened.people.make_link("admin", now())
    opened.close()
    click.echo(
        f"Made {folder}.\n\n"
        f"1. Look through {folder / 'settings.toml'}.\n"
        f"2. Start: latchbook serve --data {folder}\n"
        f"3. The login is: admin. Set its password, within two days, at\n"
        f"   http://127.0.0.1:8000/first-password/{token}\n"
        f"4. Load the county: latchbook import elections elections.csv --data {folder}\n"
        f"   then places, equipment and people."
    )


@main.command()
@data_option
@click.option("--host", default="127.0.0.1", show_default=True)
@port_option
def serve(data: Path | None, host: str, port: int) -> None:
    """Serve a county's data folder.

    Example: latchbook serve --data /srv/latchbook --port 8000
    """
    _serve(_data(data), host, port)


@main.command("import")
@click.argument("kind")
@click.argument(
    "files", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path)
)
@click.option("--election", help="The election that exposure and incidents belong to.")
@click.option("--check", is_flag=True, help="Report only; take nothing.")
@data_option
def import_(
    kind: str, files: tuple[Path, ...], election: str | None, data: Path | None, *, check: bool
) -> None:
    """Take in CSV files: elections, places, equipment, people, exposure, incidents.

    All faults of a file are told at once, and then nothing of it is taken.

    Example: latchbook import places places.csv --data /srv/latchbook
    """
    from kb.exchange.store import import_table

    with _opened(data) as folder:
        for file in files:
            report = import_table(
                folder.record,
                folder.people,
                kind,
                file,
                election=election,
                check=check,
                actor=_command_line(),
            )
            for warning in report.warnings:
                click.echo(warning, err=True)
            said = "would be " if check else ""
            click.echo(
                f"{file}: {said}{report.new} new, {report.changed} changed, {report.same} the same"
            )


@main.command()
@click.argument(
    "file", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path)
)
@click.option("--election", help="Whose worksheet to write; else of the election at hand.")
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), help="Write it here.")
@click.option("--check", is_flag=True, help="Report only; take nothing.")
@data_option
def worksheet(
    file: Path | None, election: str | None, out: Path | None, data: Path | None, *, check: bool
) -> None:
    """Read a worksheet of local rules (YAML) into the county, or write the present one.

    A file that carries `signed` is in force at once; another one becomes the draft.

    Example: latchbook worksheet local-rules.yaml --data /srv/latchbook
    """
    from kb.exchange import worksheet as sheets

    if file is not None and (election or out):
        raise click.UsageError("With a FILE to read, --election and --out have no meaning.")
    rules = _load(None).rules
    with _opened(data) as folder:
        if file is not None:
            click.echo(sheets.take(folder, rules, file, by=COMMAND_LINE, check=check))
            return
        written = sheets.give(folder, rules, election)
    if out is None:
        click.echo(written, nl=False)
    else:
        out.write_text(written, encoding="utf-8")


@main.command()
@click.argument("words", nargs=-1)
@json_option
@click.option("--limit", default=10, show_default=True, type=click.IntRange(1, 100))
@click.option("--equipment", help="An equipment id; weighs, never excludes.")
@click.option("--phase", help="A phase; weighs, never excludes.")
@click.option("--place", help="A place of the data folder; what stands there weighs.")
@click.option(
    "--batch",
    type=click.File(encoding="utf-8"),
    help="A query a line in, a JSON object a line out.",
)
@library_option
@data_option
def search(  # noqa: PLR0913 - the options of the command
    words: tuple[str, ...],
    limit: int,
    equipment: str | None,
    phase: str | None,
    place: str | None,
    batch: Iterator[str] | None,
    library: Path | None,
    data: Path | None,
    *,
    as_json: bool,
) -> None:
    """Find articles by a caller's words.

    Example: latchbook search the lid keeps popping up
    """
    if batch is None and not words:
        raise click.UsageError("Give the caller's words, or --batch FILE.")
    here: frozenset[str] = frozenset()
    if place or (data and not library):
        from kb.web.county import open_county

        with _opened(data) as folder:
            if place:
                here = frozenset(device.equipment for device in folder.record.devices(place))
            # A county's own edits, answers and accepted phrases count.
            index = _index(library) if library else open_county(folder, _load(None)).index
    else:
        index = _index(library)

    def ask(query: str) -> Answer:
        return index.search(
            query, limit=limit, equipment=equipment, phase=phase, place_equipment=here
        )

    if batch is not None:
        for line in batch:
            click.echo(json.dumps(_answer(ask(line.rstrip("\r\n"))), ensure_ascii=False))
        return
    answer = ask(" ".join(words))
    if as_json:
        click.echo(json.dumps(_answer(answer), ensure_ascii=False, indent=1))
        return
    if not answer.fits:
        click.echo("Nothing fits these words well.")
    for number, hit in enumerate(answer.hits, 1):
        click.echo(
            f"{number}. {hit.title}  [{hit.slug}]\n   Stop: {hit.stop}\n"
            f"   First: {hit.first_step}\n   {hit.why}"
        )


@main.command()
@click.argument("queries", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@library_option
def measure(queries: Path, library: Path | None) -> None:
    """Measure search on graded queries (query, slug, grade; tab separated), beside FTS5.

    Example: latchbook measure queries.tsv
    """
    from kb.search.report import report
    from kb.search.store import kept_for

    shelf = _load(library)
    try:
        text = queries.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise InputError(f"{queries} is not UTF-8 text: {error}. Save it as UTF-8.") from None
    vectors = kept_for(shelf.folder)
    click.echo(report(text, str(queries), _documents(shelf), shelf.words, vectors))


@main.command()
@click.argument(
    "folder", required=False, type=click.Path(exists=True, file_okay=False, path_type=Path)
)
@click.option("--strict", is_flag=True, help="Warnings count as errors.")
@json_option
def check(folder: Path | None, *, strict: bool, as_json: bool) -> None:
    """Check articles, trees and words: every fault, with file, line and code.

    Example: latchbook check articles
    """
    from kb.library.codes import NOTICES
    from kb.library.store import load, shipped
    from kb.triage.check import check_all
    from kb.triage.reach import check_reach
    from kb.triage.trees import load_trees

    library, problems = load(folder or shipped())
    today = date.today()  # noqa: DTZ011 - the author's day
    reach = check_reach(library, load_trees(library))
    found = sorted({*problems, *check_all(library, today), *reach})
    if as_json:
        click.echo(
            json.dumps([problem.as_dict() for problem in found], ensure_ascii=False, indent=1)
        )
    else:
        for problem in found:
            click.echo(problem)
        errors = sum(not problem.warning for problem in found)
        click.echo(
            f"{len(library.articles)} articles, {len(library.trees)} trees: "
            f"{errors} errors, {len(found) - errors} warnings",
            err=True,
        )
    if any(not problem.warning or (strict and problem.code not in NOTICES) for problem in found):
        sys.exit(1)


@main.command()
@data_option
def rebuild(data: Path | None) -> None:
    """Make the tables that pages read anew from the ledger.

    Example: latchbook rebuild --data /srv/latchbook
    """
    with _opened(data) as folder:
        before = folder.record.digest()
        count = folder.record.rebuild()
        same = (
            "as they were"
            if folder.record.digest() == before
            else "and they were not as they should be"
        )
        click.echo(f"Made anew from {count} entries, {same}.")


@main.command()
@click.argument("what", type=click.Choice(["search"]))
@json_option
def bench(what: str, *, as_json: bool) -> None:
    """Measure speed as a ratio to a peer in one run; works in a checkout with .[test].

    Example: latchbook bench search
    """
    root = Path(__file__).parent.parent
    if not (root / "tests" / "benchmarks" / f"{what}.py").is_file():
        raise StateError("Benchmarks are part of a checkout, not of the installed program.")
    command = [sys.executable, "-m", f"tests.benchmarks.{what}", *(["--json"] if as_json else [])]
    sys.exit(subprocess.run(command, cwd=root, check=False).returncode)  # noqa: S603 - our own


def _serve(path: Path, host: str, port: int, vectors: KeptVectors | None = None) -> None:
    from kb.incidents.store.folder import open_folder
    from kb.web.serve import serve as run

    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(message)s")
    run(open_folder(path), _load(None), host, port, vectors)


def _data(data: Path | None) -> Path:
    if data is None:
        raise click.UsageError(
            "Name the data folder: --data DIR, or LATCHBOOK_DATA. `latchbook init DIR` makes one."
        )
    return data


@contextlib.contextmanager
def _opened(data: Path | None) -> Iterator[Folder]:
    from kb.incidents.store.folder import open_folder

    folder = open_folder(_data(data))
    try:
        yield folder
    finally:
        folder.close()


def _command_line() -> Account:
    from kb.people.accounts import Account

    return Account(COMMAND_LINE, "Command line", frozenset({"administrator"}))


def _load(folder: Path | None) -> Library:
    """A library; its faulty parts are left out, and that is said."""
    from kb.library.store import load, shipped

    folder = folder or shipped()
    library, problems = load(folder)
    errors = sum(not problem.warning for problem in problems)
    if errors:
        click.echo(
            f"latchbook: {errors} faults in {folder}; what is faulty is left out. "
            f"They are listed by: latchbook check {folder}",
            err=True,
        )
    return library


def _documents(library: Library) -> list[Document]:
    from kb.triage.documents import documents
    from kb.triage.trees import load_trees

    return documents(library, load_trees(library), {})


def _index(folder: Path | None) -> Index:
    from kb.search.index import Index
    from kb.search.store import kept_for

    library = _load(folder)
    return Index(_documents(library), library.words, kept_for(library.folder))


def _answer(answer: Answer) -> dict[str, object]:
    names = ("slug", "title", "equipment", "score", "stop", "why")
    return {
        "query": answer.query,
        "fits": answer.fits,
        "results": [{name: getattr(hit, name) for name in names} for hit in answer.hits],
    }
