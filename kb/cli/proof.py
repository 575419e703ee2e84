"""The county's signing key, and checkpoints of the record."""

from __future__ import annotations

from pathlib import Path

import click

from kb.base.clock import now
from kb.base.errors import InputError
from kb.cli.shared import data_folder, data_option, opened


@click.command()
@data_option
def keys(data: Path | None) -> None:
    """Make the signing key of a data folder that has none; nothing is ever replaced.

    Example: latchbook keys --data /srv/latchbook
    """
    from kb.base import settings
    from kb.base.errors import StateError
    from kb.incidents.store import keys as kept
    from kb.incidents.store.backup import DATABASE

    folder = data_folder(data)
    if not (folder / DATABASE).is_file():
        raise StateError(f"{folder} is no data folder: it has no {DATABASE}. Name another.")
    verifier = kept.make(folder, settings.load(folder).county)
    click.echo(
        f"Made the keys in {folder / kept.FOLDER}. Keep a copy of {kept.SIGNING} in a safe: "
        "backups leave it out.\n"
        f"Give this line, the public key, to whoever is to check the record:\n{verifier}"
    )


@click.command()
@click.argument("election", required=False)
@data_option
def checkpoint(election: str | None, data: Path | None) -> None:
    """Sign an election's record as it stands, and print the note.

    Without ELECTION: the one whose day it is, or the nearest. Where nothing was added since the
    last checkpoint, that one is printed again.

    Example: latchbook checkpoint 2026-general --data /srv/latchbook
    """
    with opened(data) as folder:
        known = {one.id: one for one in folder.record.elections()}
        current = folder.record.current_election(now())
        chosen = election or (current.id if current else "")
        if chosen not in known:
            names = ", ".join(known) or "none yet; import elections first"
            raise InputError(f"There is no election '{chosen}' here. Known: {names}.")
        click.echo(folder.checkpoints.make(chosen, "asked", now()).note, nl=False)
