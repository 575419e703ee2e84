"""The county's files in and out."""

from __future__ import annotations

from pathlib import Path

import click

from kb.cli.shared import COMMAND_LINE, command_line, data_option, load, opened


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
    """Take in CSV files: elections, places, equipment, people, exposure, incidents.

    All faults of a file are told at once, and then nothing of it is taken.

    Example: latchbook import places places.csv --data /srv/latchbook
    """
    from kb.exchange.store import import_table

    with opened(data) as folder:
        for file in files:
            report = import_table(
                folder.record,
                folder.people,
                kind,
                file,
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
