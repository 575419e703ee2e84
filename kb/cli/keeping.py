"""Keep the county: backup, restore, a standby that goes on."""

from __future__ import annotations

from pathlib import Path

import click

from kb.cli.shared import data_folder, data_option

_file = click.Path(dir_okay=False, path_type=Path)
_folder = click.Path(file_okay=False, path_type=Path)


@click.command()
@click.argument("out", type=_file)
@click.option("--with-keys", is_flag=True, help="The signing key too; keep that file locked up.")
@data_option
def backup(out: Path, data: Path | None, *, with_keys: bool) -> None:
    """Write a backup of the whole county, while it runs, and check it.

    Example: latchbook backup 2026-11-03.zip --data /srv/latchbook
    """
    from kb.incidents.store.backup import backup as write

    sizes = write(data_folder(data), out, with_keys=with_keys)
    click.echo(f"{out}: {sum(sizes.values())} entries in {len(sizes)} logs. It was checked.")
    if not with_keys:
        click.echo("The signing key is not in it. Keep that apart: --with-keys puts it in.")


@click.command()
@click.argument("source", type=click.Path(exists=True, path_type=Path))
@click.argument("folder", type=_folder)
def restore(source: Path, folder: Path) -> None:
    """Make a data folder of a backup (a zip) or of a standby (a folder), and check it.

    FOLDER must be new or empty.

    Example: latchbook restore 2026-11-03.zip /srv/latchbook-new
    """
    from kb.incidents.store import keys
    from kb.incidents.store.backup import restore as put_back
    from kb.incidents.store.standby import take_over

    sizes = take_over(source, folder) if source.is_dir() else put_back(source, folder)
    click.echo(f"{folder}: {sum(sizes.values())} entries in {len(sizes)} logs. It was checked.")
    if not keys.there(folder):
        click.echo(
            f"It has no signing key. Put {keys.SIGNING} into {folder / keys.FOLDER} to sign "
            "checkpoints again; everything else works without."
        )
    click.echo(f"Go on with: latchbook serve --data {folder}")


@click.command()
@click.argument("standby", type=_folder)
@data_option
def standby(standby: Path, data: Path | None) -> None:
    """Write the configuration of a standby: a folder, best on another machine.

    Example: latchbook standby /mnt/second/latchbook --data /srv/latchbook
    """
    from kb.incidents.store.standby import configure, program

    folder = data_folder(data)
    path = configure(folder, standby)
    click.echo(
        f"Wrote {path}.\n"
        f"1. Run beside the server, as the same user:  {program()} replicate -config {path}\n"
        f'2. Put into {folder / "settings.toml"}:  standby = "{standby.resolve()}"\n'
        "   and start the server anew: phones then keep what the standby does not hold yet.\n"
        f"3. If this machine is lost:  latchbook restore {standby.resolve()} NEW-FOLDER\n"
        "The signing key is not copied. Keep a copy of it where only its keeper gets at it."
    )
