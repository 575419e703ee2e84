"""The command line: thin, calls the same functions as the pages."""

from __future__ import annotations

import click

from kb import __version__
from kb.cli import finding, keeping, people, proof, reviewing, serving, tables, upkeep, verify
from kb.cli.shared import Told


@click.group(cls=Told, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="latchbook")
def main() -> None:
    """Find the fix, walk it, log it, look back: election-day equipment trouble of a county."""


for command in (
    serving.demo,
    serving.init,
    serving.serve,
    people.people,
    tables.import_,
    tables.export,
    tables.worksheet,
    finding.search,
    finding.measure,
    finding.check,
    proof.keys,
    proof.checkpoint,
    verify.verify,
    keeping.backup,
    keeping.restore,
    keeping.standby,
    reviewing.review,
    reviewing.report,
    upkeep.rebuild,
    upkeep.bench,
):
    main.add_command(command)
