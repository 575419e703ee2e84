"""The review of an election, and its after-action report."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.base.errors import InputError
from kb.cli.shared import data_option, json_option, opened

if TYPE_CHECKING:
    from kb.incidents.places import Election
    from kb.incidents.store import Record


@click.command()
@click.argument("election")
@json_option
@click.option(
    "--compare",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="A CSV of comparisons: name, equipment, before (an election), places (empty: all).",
)
@data_option
def review(election: str, compare: Path | None, data: Path | None, *, as_json: bool) -> None:
    """What stands out in an election, in words; `--json`: every number of the review.

    Example: latchbook review 2026-general --json --data /srv/latchbook
    """
    from kb.exchange.comparisons import read as comparisons
    from kb.review import store
    from kb.review.findings.board import findings, quiet
    from kb.review.sections import review as review_of

    with opened(data) as folder, store.uncollected():
        chosen = known_election(folder.record, election)
        material = store.read(folder.record, chosen)
        # A comparison may name any of them.
        every = [one.id for one in folder.record.elections()] if compare else ()
        earlier = store.earlier(folder.record, chosen, every)
        asked = comparisons(compare, material, earlier) if compare else None
        found = review_of(material, earlier, asked)
    if as_json:
        click.echo(json.dumps(found.sections, ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(f"{chosen.name}, {chosen.date}")
    stands_out = findings(found)
    for finding in stands_out:
        click.echo(f"\n{finding.title}\n  {finding.words}")
        if finding.sort == "beyond chance":
            click.echo(f"  How sure: {finding.sure}")
    click.echo("\nLooked at, and not standing out:")
    for _, words in quiet(found, stands_out):
        click.echo(f"  {words}")


def known_election(record: Record, identifier: str) -> Election:
    """The election of this id; raises InputError that names those there are."""
    found = record.election(identifier)
    if found is None:
        names = (
            ", ".join(one.id for one in record.elections()) or "none yet; import elections first"
        )
        raise InputError(f"There is no election '{identifier}' here. Known: {names}.")
    return found


@click.command()
@click.argument("election")
@click.option(
    "--out",
    required=True,
    type=click.Path(file_okay=False, path_type=Path),
    help="A new or empty folder.",
)
@data_option
def report(election: str, out: Path, data: Path | None) -> None:
    """Write the after-action report of an election: report.html, and its tables in bundle/.

    Example: latchbook report 2026-general --out report --data /srv/latchbook
    """
    from kb.exchange.report.store import write

    with opened(data) as folder:
        written = write(folder, known_election(folder.record, election), out)
    click.echo(f"{out}: report.html, and {len(written) - 1} files of its bundle. Print it to PDF.")
