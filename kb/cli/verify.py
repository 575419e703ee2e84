"""Check a record off line."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from kb.base.errors import InputError
from kb.cli.shared import json_option

_file = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command()
@click.argument("record", type=_file)
@click.option(
    "--checkpoint",
    "checkpoints",
    multiple=True,
    type=_file,
    help="A signed checkpoint that was kept elsewhere, of the election's log or the county's; "
    "may be given more than once, and each must fit.",
)
@click.option("--key", type=_file, help="The office's public key, had from elsewhere.")
@json_option
def verify(record: Path, checkpoints: tuple[Path, ...], key: Path | None, *, as_json: bool) -> None:
    """Check a record or a public copy: every fault with its place. Needs no folder, no network.

    It shows that nothing was changed, dropped or added since what was signed; not that what was
    entered is true, nor that all was entered. Ends with status 1 where anything does not fit.

    Example: latchbook verify record.zip --checkpoint from-the-clerk.txt
    """
    from kb.exchange.record.store import read
    from kb.exchange.record.verify import verify as check
    from kb.incidents.notes import read_verifier

    outside = {str(path): _text(path) for path in checkpoints}
    result = check(read(record), outside, read_verifier(_text(key).strip()) if key else None)
    if as_json:
        click.echo(
            json.dumps({"holds": result.holds, "faults": result.faults, "told": result.told})
        )
    else:
        for line in (*result.faults, *result.told):
            click.echo(line)
        faults = len(result.faults)
        click.echo("It holds." if result.holds else f"It does not hold: {faults} faults.")
    if not result.holds:
        sys.exit(1)


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path} cannot be read as text: {error}.") from None
