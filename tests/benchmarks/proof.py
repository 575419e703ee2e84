"""Time of a root and a proof beside pymerkle over the same leaves, in one run.

Both hash as RFC 6962 does (a zero byte before a leaf, a one before a node), so over the same leaves
they have the same root: each turn compares the roots and verifies the proof, outside the timing.
Like is measured with like:

- from an SQLite file: the record's stored nodes, and pymerkle's own backend for SQLite;
- from memory: the pure tree over nodes in lists, and pymerkle's backend in memory;
- first after opening: the root alone, from a file just opened. pymerkle keeps roots of larger
  subtrees in a cache, which is full in the rows above and empty here.

A turn is the root of one of the last sizes and the inclusion proof of a random entry in it. Judge
the ratios: the absolute times are the machine's.
"""

from __future__ import annotations

import json
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import pymerkle  # type: ignore[import-untyped]
from sqlite_utils import Database

from kb.base.database import Store
from kb.incidents import merkle
from kb.incidents.leaf import leaf_hash
from kb.incidents.store import Record, tree

ENTRIES = 100_000
GOAL = 3.0
LOG = "bench"
_SEED = 11
_ROW = """INSERT INTO ledger VALUES
(?, ?, ?, ?, NULL, 'note.added', '', '', '', '{}', '{}', ?, ?, 0)"""

# Gives the root of a size, and the inclusion proof of an index in it where one is asked for.
Way = Callable[[int, int], tuple[bytes, Any]]


@dataclass(frozen=True)
class Row:
    """Medians in microseconds."""

    what: str
    theirs: float
    ours: float

    @property
    def ratio(self) -> float:
        """How many times faster the stored nodes are."""
        return self.theirs / self.ours

    def __str__(self) -> str:
        return (
            f"{self.what:<36} stored nodes {self.ours:7.0f} us   "
            f"pymerkle {self.theirs:7.0f} us   {self.ratio:7.1f} x faster"
        )


def text_of(number: int) -> bytes:
    """The bytes of a leaf."""
    return f'{{"kind":"note.added","number":{number}}}'.encode()


def fill(store: Store, entries: int) -> None:
    """Put bare leaves into the ledger and its tree, past the intake."""

    def job(database: Database) -> None:
        for number in range(entries):
            data = text_of(number)
            hash_ = leaf_hash(data)
            database.execute(_ROW, (LOG, number + 1, str(number), LOG, data, hash_))
            tree.grow(database, LOG, number + 1, hash_)

    store.write(job)


def of_record(record: Record) -> Way:
    """The record's stored nodes."""
    return lambda size, index: (
        record.tree_root(LOG, size),
        record.inclusion(LOG, index + 1, size),
    )


def of_nodes(nodes: merkle.Nodes) -> Way:
    """The pure tree over nodes in lists."""
    return lambda size, index: (
        merkle.root_at(nodes, size),
        merkle.inclusion_proof(nodes, index, size),
    )


def of_peer(peer: Any) -> Way:
    """Another tree. Its path begins with the leaf itself."""
    return lambda size, index: (
        peer.get_root(size),
        peer.prove_inclusion(index + 1, size).path[1:],
    )


def timed(way: Way, size: int, index: int) -> tuple[float, tuple[bytes, Any]]:
    """Microseconds and the result."""
    start = time.perf_counter()
    result = way(size, index)
    return 1e6 * (time.perf_counter() - start), result


def compare(what: str, ours: Way, theirs: Way, entries: int, turns: int = 300) -> Row:
    """Let both answer in turn; the first fifth warms them up and is not counted."""
    chance = random.Random(_SEED)
    spent: tuple[list[float], list[float]] = ([], [])
    for turn in range(turns):
        size = entries - chance.randrange(turns)
        index = chance.randrange(size)
        answers = [timed(way, size, index) for way in (ours, theirs)]
        (root, proof), their_answer = (answer for _, answer in answers)
        if their_answer != (root, proof) or not merkle.verify_inclusion(
            leaf_hash(text_of(index)), index, size, proof, root
        ):
            raise AssertionError(f"{what}: the two trees differ at {size} entries")
        if turn >= turns // 5:
            for times, (microseconds, _) in zip(spent, answers, strict=True):
                times.append(microseconds)
    return Row(what, statistics.median(spent[1]), statistics.median(spent[0]))


def first(folder: Path, entries: int, times: int = 5) -> Row:
    """The root from files just opened."""
    spent: tuple[list[float], list[float]] = ([], [])
    for _ in range(times):
        store = Store(folder / "ours.db")
        record, peer = Record(store), pymerkle.SqliteTree(str(folder / "theirs.db"))
        ours = timed(lambda size, _, record=record: (record.tree_root(LOG, size), None), entries, 0)
        theirs = timed(lambda size, _, peer=peer: (peer.get_root(size), None), entries, 0)
        if ours[1] != theirs[1]:
            raise AssertionError("the two roots differ")
        spent[0].append(ours[0])
        spent[1].append(theirs[0])
        store.close()
        peer.close()
    what = "root, first after opening"
    return Row(what, statistics.median(spent[1]), statistics.median(spent[0]))


def measured(entries: int = ENTRIES) -> list[Row]:
    """All rows."""
    texts = [text_of(number) for number in range(entries)]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        store = Store(folder / "ours.db")
        record = Record(store)
        fill(store, entries)
        on_file, in_memory = pymerkle.SqliteTree(str(folder / "theirs.db")), pymerkle.InmemoryTree()
        for peer in (on_file, in_memory):
            peer.append_entries(texts)
        nodes = merkle.nodes_over([leaf_hash(text) for text in texts])
        rows = [
            compare("root and proof, SQLite file", of_record(record), of_peer(on_file), entries),
            compare("root and proof, in memory", of_nodes(nodes), of_peer(in_memory), entries),
        ]
        store.close()
        on_file.close()
        return [*rows, first(folder, entries)]


def main() -> int:
    """Print the rows, or JSON; 1 where the goal is missed."""
    rows = measured()
    if "--json" in sys.argv:
        told = [asdict(row) | {"ratio": row.ratio} for row in rows]
        sys.stdout.write(json.dumps(told) + "\n")
    else:
        sys.stdout.write(f"{ENTRIES:,} entries; goal: at least {GOAL:.0f} x faster\n")
        sys.stdout.write("".join(f"{row}\n" for row in rows))
    return int(any(row.ratio < GOAL for row in rows))


if __name__ == "__main__":
    sys.exit(main())
