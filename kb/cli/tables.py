"""The county's files in and out."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.cli.shared import COMMAND_LINE, command_line, data_option, load, opened

if TYPE_CHECKING:
    from kb.exchange.store import Report
    from kb.incidents.store.folder import Folder


@click.command("import")
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
    """Take in the county's files.

    CSV: elections, places, equipment, people, exposure, incidents, shifts, calls; JSON lines:
    events. All faults of a file are told at once, and then nothing of it is taken.

    Example: latchbook import places places.csv --data /srv/latchbook
    """
    from kb.exchange.outgoing_store import EVENTS, import_events
    from kb.exchange.store import import_table

    with opened(data) as folder:
        for file in files:
            if kind == EVENTS:
                take: Callable[..., Report] = import_events
            else:
                take = partial(import_table, kind=kind)
            report = take(
                folder.record,
                folder.people,
                path=file,
                election=election,
                check=check,
                actor=command_line(),
            )
            for warning in report.warnings:
                click.echo(warning, err=True)
            said = "would be " if check else ""
            click.echo(
                f"{file}: {said}{report.new} new, {report.changed} changed, {report.same} the same"
            )


@click.command()
@click.argument("kind")
@click.argument("out", required=False, type=click.Path(dir_okay=False, path_type=Path))
@click.option("--election", help="The election that the rows belong to.")
@click.option("--template", is_flag=True, help="An empty file with the columns.")
@data_option
def export(
    kind: str, out: Path | None, election: str | None, data: Path | None, *, template: bool
) -> None:
    """Write a table, `events`, the `record`, its `public-copy`, or the review `bundle`.

    Without OUT a table is printed.

    Example: latchbook export places places.csv --data /srv/latchbook
    """
    from kb.exchange import outgoing_store as outgoing

    if kind in {"record", "public-copy"}:
        _export_record(kind == "public-copy", out, election, data)
        return
    if template:
        written = outgoing.template(kind)
    else:
        with opened(data) as folder:
            if kind == "bundle":
                _export_bundle(folder, out, election)
                return
            if kind == outgoing.EVENTS:
                written = outgoing.export_events(folder.record, election)
            else:
                written = outgoing.export_table(folder.record, folder.people, kind, election)
    if out is None:
        sys.stdout.buffer.write(written)
    else:
        out.write_bytes(written)


@click.command()
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
    rules = load(None).rules
    with opened(data) as folder:
        if file is not None:
            click.echo(sheets.take(folder, rules, file, by=COMMAND_LINE, check=check))
            return
        written = sheets.give(folder, rules, election)
    if out is None:
        click.echo(written, nl=False)
    else:
        out.write_text(written, encoding="utf-8")


def _export_bundle(folder: Folder, out: Path | None, election: str | None) -> None:
    from kb.exchange.bundle_store import write

    if out is None:
        raise click.UsageError("Name the zip to write: latchbook export bundle OUT.zip")
    click.echo(f"{out}: {', '.join(write(folder.record, folder.people, election, out))}")


def _export_record(public: bool, out: Path | None, election: str | None, data: Path | None) -> None:
    from kb.authoring import overlay
    from kb.base.clock import now
    from kb.exchange.record.store import export as write
    from kb.triage.trees import load_trees

    if out is None:
        raise click.UsageError("Name the zip to write: latchbook export record OUT.zip")
    with opened(data) as folder:
        at_hand = folder.record.current_election(now())
        wanted = election or (at_hand.id if at_hand else "")
        library, _ = overlay.apply(load(None), folder.editions.published())
        classes = {slug: article.equipment for slug, article in library.articles.items()}
        classes |= {slug: tree.equipment for slug, tree in load_trees(library).items()}
        made = write(folder, wanted, out, classes, public=public, now=now())
    hidden = len(made.log.redactions)
    click.echo(
        f"{out}: {len(made.log.leaves)} entries of '{wanted}', signed at "
        f"{max(made.log.notes)}; {hidden} members withheld, each with its reason. "
        f"Check it: latchbook verify {out}"
    )
