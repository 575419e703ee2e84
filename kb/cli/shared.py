"""What commands share: options, the opened data folder, the library, errors as plain messages."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.base.errors import LatchbookError

if TYPE_CHECKING:
    from kb.incidents.store.folder import Folder
    from kb.library.article import Library
    from kb.people.accounts import Account
    from kb.search.documents import Document
    from kb.search.index import Index

# The actor in the ledger of what the command line imports.
COMMAND_LINE = "command-line"

data_option = click.option(
    "--data",
    type=click.Path(path_type=Path),
    envvar="LATCHBOOK_DATA",
    help="The county's data folder; also from LATCHBOOK_DATA.",
)
library_option = click.option(
    "--library",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Another folder of articles than the shipped one.",
)
port_option = click.option(
    "--port",
    default=8000,
    show_default=True,
    type=click.IntRange(0, 65535),
    help="0 takes a free port.",
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


class Told(click.Group):
    """A group whose commands end with status 1 and a plain message for an error of the input."""

    def invoke(self, ctx: click.Context) -> object:
        """Run the command."""
        try:
            return super().invoke(ctx)
        except LatchbookError as error:
            click.echo(f"latchbook: {error}", err=True)
            sys.exit(1)


def data_folder(data: Path | None) -> Path:
    """The folder that was named; raises UsageError where none was."""
    if data is None:
        raise click.UsageError(
            "Name the data folder: --data DIR, or LATCHBOOK_DATA. `latchbook init DIR` makes one."
        )
    return data


@contextlib.contextmanager
def opened(data: Path | None) -> Iterator[Folder]:
    """The county's folder, closed again at the end."""
    from kb.incidents.store.folder import open_folder

    folder = open_folder(data_folder(data))
    try:
        yield folder
    finally:
        folder.close()


def command_line() -> Account:
    """Who acts on the command line: whoever can read the folder is its administrator."""
    from kb.people.accounts import Account

    return Account(COMMAND_LINE, "Command line", frozenset({"administrator"}))


def load(folder: Path | None) -> Library:
    """A library; its faulty parts are left out, and that is said."""
    from kb.library.store import load, shipped

    folder = folder or shipped()
    library, problems = load(folder)
    errors = sum(not problem.warning for problem in problems)
    if errors:
        click.echo(
            f"latchbook: {errors} faults in {folder}; what is faulty is left out. "
            f"They are listed by: latchbook check {folder}",
            err=True,
        )
    return library


def documents_of(library: Library) -> list[Document]:
    """What search reads of a library: its articles and trees, no local rule answered."""
    from kb.triage.documents import documents
    from kb.triage.trees import load_trees

    return documents(library, load_trees(library), {})


def index_of(folder: Path | None) -> Index:
    """The search index of a library."""
    from kb.search.index import Index
    from kb.search.store import kept_for

    library = load(folder)
    return Index(documents_of(library), library.words, kept_for(library.folder))
