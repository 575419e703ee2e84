"""Make a county's folder, serve it, serve the demo."""

from __future__ import annotations

import logging
import tempfile
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.base.clock import local, now
from kb.cli.shared import data_folder, data_option, load, port_option

if TYPE_CHECKING:
    from kb.search.store import KeptVectors


@click.command()
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
        click.echo(
            "Sign in as one of these; the password is the same for all, and the second step of "
            "managers and administrators is off here:\n"
        )
        for one in county.sign_ins:
            click.echo(f"  {ROLES[one.role]:<15} {one.login:<22} {one.password}")
        click.echo()
        # The folder does not last; vectors kept for this user do.
        _serve(path, "127.0.0.1", port, kept_for(shipped()))


@click.command()
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


@click.command()
@data_option
@click.option("--host", default="127.0.0.1", show_default=True)
@port_option
def serve(data: Path | None, host: str, port: int) -> None:
    """Serve a county's data folder.

    Example: latchbook serve --data /srv/latchbook --port 8000
    """
    _serve(data_folder(data), host, port)


def _serve(path: Path, host: str, port: int, vectors: KeptVectors | None = None) -> None:
    from kb.incidents.store.folder import open_folder
    from kb.web.serve import serve as run

    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(message)s")
    run(open_folder(path), load(None), host, port, vectors)
