"""Rebuild what follows from the ledger; measure speed."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import click

from kb.base.errors import StateError
from kb.cli.shared import data_option, json_option, opened


@click.command()
@data_option
def rebuild(data: Path | None) -> None:
    """Make the tables that pages read anew from the ledger.

    Example: latchbook rebuild --data /srv/latchbook
    """
    with opened(data) as folder:
        before = folder.record.digest()
        count = folder.record.rebuild()
        same = (
            "as they were"
            if folder.record.digest() == before
            else "and they were not as they should be"
        )
        click.echo(f"Made anew from {count} entries, {same}.")


@click.command()
@click.argument("what", type=click.Choice(["search", "proof", "day", "review"]))
@json_option
def bench(what: str, *, as_json: bool) -> None:
    """Measure speed as a ratio to a peer in one run; works in a checkout with .[test].

    Example: latchbook bench search
    """
    root = Path(__file__).parents[2]
    if not (root / "tests" / "benchmarks" / f"{what}.py").is_file():
        raise StateError("Benchmarks are part of a checkout, not of the installed program.")
    command = [sys.executable, "-m", f"tests.benchmarks.{what}", *(["--json"] if as_json else [])]
    sys.exit(subprocess.run(command, cwd=root, check=False).returncode)  # noqa: S603 - our own
