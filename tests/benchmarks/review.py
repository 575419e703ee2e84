"""Time and memory of a review beside a plain pandas script of the same figures, in one run.

A generated county of 5,000 places, 10 elections and 100,000 incidents; both sides read what they
keep it in (the record; the CSV files) and work out everything, each in a process of its own, in
turn. Judge the ratio: the absolute times are the machine's. Loading the county into a record
takes some ten minutes; `--folder DIR` keeps it for the next time.
"""

from __future__ import annotations

import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import click

from kb.base.clock import now
from kb.exchange.outgoing_store import import_events
from kb.exchange.store import import_table
from kb.incidents.store.folder import create, open_folder
from kb.people.accounts import Account
from kb.review import store

FIXTURES = Path(__file__).parents[1] / "fixtures" / "review"
ELECTION = "10"
ROUNDS = 5
MOST_BYTES = 2 * 1024**3
SIDES = ("record", "pandas")


def generate(out: Path, *options: str) -> None:
    """Write the county's files."""
    script = str(FIXTURES / "big_county.py")
    subprocess.run([sys.executable, script, str(out), *options], check=True, capture_output=True)


def load(files: Path, folder: Path) -> None:
    """Take the files into a new data folder, as a county does."""
    create(folder, 'county = "Large"\n')
    opened = open_folder(folder)
    actor = Account("admin", "", frozenset({"administrator"}))
    try:
        for kind in ("elections", "places", "equipment"):
            path = files / f"{kind}.csv"
            import_table(opened.record, opened.people, kind, path, actor=actor)
        for part in sorted(path for path in files.iterdir() if path.is_dir()):
            for kind in ("exposure", "incidents", "calls"):
                path, of = part / f"{kind}.csv", part.name.split("-")[0]
                import_table(opened.record, opened.people, kind, path, actor=actor, election=of)
            events = part / "events.jsonl"
            if events.is_file():
                import_events(opened.record, opened.people, events, actor=actor, election=of)
    finally:
        opened.close()


def by_record(folder: Path, election: str) -> dict[str, object]:
    """The review by this program."""
    opened = open_folder(folder)
    try:
        chosen = opened.record.election(election)
        assert chosen is not None
        return store.reviewed(opened.record, chosen, now()).sections
    finally:
        opened.close()


def by_pandas(files: Path, election: str) -> dict[str, object]:
    """The review by the other script."""
    sys.path.insert(0, str(FIXTURES))
    from peer import review  # noqa: PLC0415 - a script of its own, with pandas

    found: dict[str, object] = review(str(files), election)
    return found


def _one(side: str, where: Path) -> None:
    """Run one side here and print its seconds, imports apart, and its greatest memory."""
    run = by_record if side == "record" else by_pandas
    if side == "pandas":
        sys.path.insert(0, str(FIXTURES))
        import peer  # noqa: F401, PLC0415 - so that its import is not counted
    begin = time.perf_counter()
    run(where, ELECTION)
    seconds = time.perf_counter() - begin
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    click.echo(json.dumps({"seconds": seconds, "bytes": memory}))


def _ask(side: str, where: Path) -> dict[str, float]:
    command = [
        sys.executable,
        "-m",
        "tests.benchmarks.review",
        "--one",
        side,
        "--where",
        str(where),
    ]
    found: dict[str, float] = json.loads(subprocess.check_output(command, text=True))
    return found


@click.command()
@click.option("--json", "as_json", is_flag=True)
@click.option("--folder", type=click.Path(path_type=Path), help="Keep the county here.")
@click.option("--one", type=click.Choice(SIDES), hidden=True)
@click.option("--where", type=click.Path(path_type=Path), hidden=True)
def main(folder: Path | None, one: str | None, where: Path | None, *, as_json: bool) -> None:
    """Compare both sides."""
    if one and where:
        _one(one, where)
        return
    with tempfile.TemporaryDirectory() as name:
        root = folder or Path(name)
        places = {"record": root / "record", "pandas": root / "files"}
        if not places["record"].exists():
            root.mkdir(parents=True, exist_ok=True)
            click.echo("Loading 100,000 incidents, some ten minutes.", err=True)
            generate(places["pandas"])
            load(places["pandas"], places["record"])
        rounds = [{side: _ask(side, places[side]) for side in SIDES} for _ in range(ROUNDS)]
    told = {
        side: {
            "seconds": statistics.median(one[side]["seconds"] for one in rounds),
            "bytes": max(one[side]["bytes"] for one in rounds),
        }
        for side in SIDES
    }
    ratio = statistics.median(one["record"]["seconds"] / one["pandas"]["seconds"] for one in rounds)
    if as_json:
        click.echo(json.dumps({"ratio": ratio} | told, indent=1))
    else:
        for side, line in told.items():
            click.echo(f"{side:8} {line['seconds']:.2f} s, {line['bytes'] / 1024**2:.0f} MiB")
        click.echo(f"ratio    {ratio:.2f} (median of {ROUNDS} rounds)")
    sys.exit(0 if ratio <= 1 and told["record"]["bytes"] < MOST_BYTES else 1)


if __name__ == "__main__":
    main()
