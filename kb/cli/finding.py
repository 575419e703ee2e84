"""Search, its measurement, and the check of the library."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.base.errors import InputError
from kb.cli.shared import (
    data_option,
    documents_of,
    index_of,
    json_option,
    library_option,
    load,
    opened,
)

if TYPE_CHECKING:
    from kb.search.hits import Answer


@click.command()
@click.argument("words", nargs=-1)
@json_option
@click.option("--limit", default=10, show_default=True, type=click.IntRange(1, 100))
@click.option("--equipment", help="An equipment id; weighs, never excludes.")
@click.option("--phase", help="A phase; weighs, never excludes.")
@click.option("--place", help="A place of the data folder; what stands there weighs.")
@click.option(
    "--batch",
    type=click.File(encoding="utf-8"),
    help="A query a line in, a JSON object a line out.",
)
@library_option
@data_option
def search(  # noqa: PLR0913 - the options of the command
    words: tuple[str, ...],
    limit: int,
    equipment: str | None,
    phase: str | None,
    place: str | None,
    batch: Iterator[str] | None,
    library: Path | None,
    data: Path | None,
    *,
    as_json: bool,
) -> None:
    """Find articles by a caller's words.

    Example: latchbook search the lid keeps popping up
    """
    if batch is None and not words:
        raise click.UsageError("Give the caller's words, or --batch FILE.")
    here: frozenset[str] = frozenset()
    if place or (data and not library):
        from kb.web.county import open_county

        with opened(data) as folder:
            if place:
                here = frozenset(device.equipment for device in folder.record.devices(place))
            # A county's own edits, answers and accepted phrases count.
            index = index_of(library) if library else open_county(folder, load(None)).index
    else:
        index = index_of(library)

    def ask(query: str) -> Answer:
        return index.search(
            query, limit=limit, equipment=equipment, phase=phase, place_equipment=here
        )

    if batch is not None:
        for line in batch:
            click.echo(json.dumps(as_json_answer(ask(line.rstrip("\r\n"))), ensure_ascii=False))
        return
    answer = ask(" ".join(words))
    if as_json:
        click.echo(json.dumps(as_json_answer(answer), ensure_ascii=False, indent=1))
        return
    if not answer.fits:
        click.echo("Nothing fits these words well.")
    for number, hit in enumerate(answer.hits, 1):
        click.echo(
            f"{number}. {hit.title}  [{hit.slug}]\n   Stop: {hit.stop}\n"
            f"   First: {hit.first_step}\n   {hit.why}"
        )


@click.command()
@click.argument("queries", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@library_option
def measure(queries: Path, library: Path | None) -> None:
    """Measure search on graded queries (query, slug, grade; tab separated), beside FTS5.

    Example: latchbook measure queries.tsv
    """
    from kb.search.report import report
    from kb.search.store import kept_for

    shelf = load(library)
    try:
        text = queries.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise InputError(f"{queries} is not UTF-8 text: {error}. Save it as UTF-8.") from None
    vectors = kept_for(shelf.folder)
    click.echo(report(text, str(queries), documents_of(shelf), shelf.words, vectors))


@click.command()
@click.argument(
    "folder", required=False, type=click.Path(exists=True, file_okay=False, path_type=Path)
)
@click.option("--strict", is_flag=True, help="Warnings count as errors.")
@json_option
def check(folder: Path | None, *, strict: bool, as_json: bool) -> None:
    """Check articles, trees and words: every fault, with file, line and code.

    Example: latchbook check articles
    """
    from kb.library.codes import NOTICES
    from kb.library.store import load, shipped
    from kb.triage.check import check_all
    from kb.triage.reach import check_reach
    from kb.triage.trees import load_trees

    library, problems = load(folder or shipped())
    if not (library.articles or library.trees or problems):
        raise InputError(f"{folder} holds no article and no tree. Name the folder of a library.")
    today = date.today()  # noqa: DTZ011 - the author's day
    reach = check_reach(library, load_trees(library))
    found = sorted({*problems, *check_all(library, today), *reach})
    if as_json:
        click.echo(
            json.dumps([problem.as_dict() for problem in found], ensure_ascii=False, indent=1)
        )
    else:
        for problem in found:
            click.echo(problem)
        errors = sum(not problem.warning for problem in found)
        click.echo(
            f"{len(library.articles)} articles, {len(library.trees)} trees: "
            f"{errors} errors, {len(found) - errors} warnings",
            err=True,
        )
    if any(not problem.warning or (strict and problem.code not in NOTICES) for problem in found):
        sys.exit(1)


def as_json_answer(answer: Answer) -> dict[str, object]:
    """An answer as the JSON that `search` prints."""
    names = ("slug", "title", "equipment", "score", "stop", "why")
    return {
        "query": answer.query,
        "fits": answer.fits,
        "results": [{name: getattr(hit, name) for name in names} for hit in answer.hits],
    }
