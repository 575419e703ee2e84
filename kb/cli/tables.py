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
@click.argument("files", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path))
@click.option("--election", help="The election that exposure and incidents belong to.")
@click.option("--check", is_flag=True, help="Report only; take nothing.")
@click.option("--zone", help="device-log: whose wall clock times without an offset are.")
@click.option(
    "--asset",
    "assets",
    multiple=True,
    help="device-log: THEIRS=OURS, a device's id and our number.",
)
@data_option
def import_(  # noqa: PLR0913 - the options of the command
    kind: str,
    files: tuple[Path, ...],
    election: str | None,
    zone: str | None,
    assets: tuple[str, ...],
    data: Path | None,
    *,
    check: bool,
) -> None:
    """Take in the county's files.

    CSV: elections, places, equipment, people, exposure, incidents, shifts, calls; JSON lines:
    events; a device's own log (NIST SP 1500-101): device-log; an election feed (VIP 6.0): vip.

    All faults of a file are told at once, and then nothing of it is taken.

    Example: latchbook import places places.csv --data /srv/latchbook
    """
    with opened(data) as folder:
        for file in files:
            report = _taker(folder, kind, zone, assets)(
                path=file, actor=command_line(), election=election, check=check
            )
            for warning in report.warnings:
                click.echo(warning, err=True)
            said = "would be " if check else ""
            click.echo(
                f"{file}: {said}{report.new} new, {report.changed} changed, {report.same} the same"
            )


def _taker(
    folder: Folder, kind: str, zone: str | None, assets: tuple[str, ...]
) -> Callable[..., Report]:
    """How a kind of file is taken: a table, or one of those that are none."""
    from kb.exchange import devicelog_store, outgoing_store, store, vip_store

    if wrong := [one for one in assets if "=" not in one]:
        raise click.UsageError(f"--asset {wrong[0]}: write THEIRS=OURS.")
    names = dict(one.split("=", 1) for one in assets)
    special: dict[str, Callable[..., Report]] = {
        outgoing_store.EVENTS: partial(outgoing_store.import_events, folder.record, folder.people),
        devicelog_store.KIND: partial(devicelog_store.take, folder, zone=zone, assets=names),
        vip_store.KIND: partial(vip_store.take, folder),
    }
    return special.get(kind, partial(store.import_table, folder.record, folder.people, kind))


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
