"""Accounts from the server's own command line: for the first link, and when nobody can sign in."""

from __future__ import annotations

from pathlib import Path

import click

from kb.cli.shared import COMMAND_LINE, data_option, opened


@click.command()
@click.argument("what", type=click.Choice(["list", "link", "disable", "enable", "second-step-off"]))
@click.argument("login", required=False)
@click.option("--reason", default="", help="Why an account is disabled, enabled, or its step off.")
@data_option
def people(what: str, login: str | None, reason: str, data: Path | None) -> None:
    """List accounts; make a one-time link; disable or enable; take a lost second step off.

    Example: latchbook people link admin --data /srv/latchbook
    """
    from kb.base.clock import now

    with opened(data) as folder:
        if what == "list":
            for one in folder.people.all():
                state = "disabled" if one.disabled else ""
                click.echo(f"{one.login:<24} {' '.join(sorted(one.roles)):<32} {one.name} {state}")
            return
        if not login:
            raise click.UsageError(f"Name the login: latchbook people {what} LOGIN")
        folder.people.get(login)
        if what == "link":
            token = folder.people.make_link(login, now(), by=COMMAND_LINE)
            click.echo(f"Good for two days, once:\n  /first-password/{token}\n")
            click.echo("Put the address under which people reach the server in front of it.")
            return
        if not reason:
            raise click.UsageError("Say why: --reason TEXT. It stands in the account's history.")
        if what == "second-step-off":
            folder.people.factors.take_off(login, COMMAND_LINE, reason)
        else:
            getattr(folder.people, what)(login, COMMAND_LINE, reason)
        click.echo("Done.")
