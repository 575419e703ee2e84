"""Does the county learn? 200 simulated calls, their words accepted as phrases as they come.

The faults of a day are few and come again: a fault is drawn with a weight that falls with its
rank (Zipf's law), then one of the two or three calls that people who had not read the articles
wrote for it, and of that call a quarter of the words is left out at random and in one of three a
letter is wrong. So no call is heard twice in the same words, some come again in nearly the same
words, and some in another person's words altogether; the three kinds are told apart.

Each call is searched, the answerer opens the right article in the end, and with some probability
an author accepts the words: at once, or each evening after so many calls. The same calls in the
same order are searched without learning beside it. The mean of several days is shown, since a
window of 25 calls is small.

Run from a checkout: python -m tests.benchmarks.replay [--evening] [--days 5]
"""

from __future__ import annotations

import argparse
import random
import string
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from kb.library.store import load, shipped
from kb.library.words import Words
from kb.search.documents import Document
from kb.search.index import Index
from kb.search.queries import Query, only_known, parse_queries
from kb.search.store import KeptVectors, kept_for
from kb.triage.documents import documents
from kb.triage.trees import load_trees

CALLS = Path(__file__).parents[1] / "fixtures" / "search" / "calls_tuning.tsv"
NUMBER, WINDOW, EVENING, DAYS, SEED, ACCEPTED = 200, 25, 50, 5, 11, 0.8
LEFT_OUT, MISTYPED, FEWEST_WORDS = 1 / 4, 1 / 3, 3
KINDS = ("new fault", "known fault, another person's words", "known fault, nearly the same words")


@dataclass(frozen=True)
class Said:
    """A simulated call: its words, the right article, and the written call it was made of."""

    words: str
    right: str
    source: str


@dataclass(frozen=True)
class Taken:
    """A call after it was searched: its kind, and whether the right article came first."""

    kind: str
    plain: bool
    learned: bool


@dataclass(frozen=True)
class Author:
    """Accepts words with `probability`, after every `every` calls."""

    probability: float = ACCEPTED
    every: int = 1


class Replay:
    """Two indexes of the same articles: one stays as shipped, one learns."""

    def __init__(
        self, shipped_documents: Sequence[Document], words: Words, vectors: KeptVectors | None
    ) -> None:
        self._shipped = {one.slug: one for one in shipped_documents}
        self._plain = Index(shipped_documents, words, vectors)
        self._learning = Index(shipped_documents, words, vectors)

    def run(self, calls: Sequence[Said], author: Author, seed: int) -> Iterator[Taken]:
        """Take the calls one by one; nothing is left of what an earlier run accepted."""
        chance = random.Random(seed)
        self._learning.update(self._shipped.values())
        documents, waiting = dict(self._shipped), set[str]()
        faults, sources = set[str](), set[str]()
        for number, call in enumerate(calls, 1):
            kind = KINDS[(call.right in faults) + (call.source in sources)]
            yield Taken(kind, _first(self._plain, call), _first(self._learning, call))
            faults.add(call.right)
            sources.add(call.source)
            if chance.random() < author.probability:
                old = documents[call.right]
                documents[call.right] = replace(old, phrases=(*old.phrases, call.words))
                waiting.add(call.right)
            if number % author.every == 0:
                self._learning.update([documents[slug] for slug in sorted(waiting)])
                waiting.clear()


def _first(index: Index, call: Said) -> bool:
    hits = index.search(call.words, limit=1).hits
    return bool(hits) and hits[0].slug == call.right


def day(calls: Sequence[Query], number: int, chance: random.Random) -> list[Said]:
    """`number` calls of one day, no two in the same words."""
    written: dict[str, list[str]] = {}
    for call in calls:
        written.setdefault(min(call.best), []).append(call.text)
    faults = chance.sample(sorted(written), len(written))
    weights = [1 / rank for rank in range(1, len(faults) + 1)]
    said: dict[str, Said] = {}
    while len(said) < number:
        fault = chance.choices(faults, weights)[0]
        source = chance.choice(written[fault])
        words = otherwise(source, chance)
        said.setdefault(words, Said(words, fault, source))
    return list(said.values())


def otherwise(text: str, chance: random.Random) -> str:
    """The same call once more: some words left out, perhaps a letter wrong."""
    words = text.split()
    kept = [word for word in words if chance.random() >= LEFT_OUT]
    kept = kept if len(kept) >= FEWEST_WORDS else words
    if chance.random() < MISTYPED:
        at = chance.randrange(len(kept))
        letter = chance.randrange(len(kept[at]))
        wrong = chance.choice(string.ascii_lowercase)
        kept[at] = kept[at][:letter] + wrong + kept[at][letter + 1 :]
    return " ".join(kept)


def table(runs: Sequence[Sequence[Taken]], window: int) -> Iterator[str]:
    """A line a window, over all runs, and a line a kind of call."""
    yield "| calls | number | success@1 as shipped | with learning |"
    yield "| --- | --- | --- | --- |"
    for begin in range(0, max(map(len, runs)), window):
        inside = [call for run in runs for call in run[begin : begin + window]]
        yield _line(f"{begin + 1}-{begin + window}", inside)
    for kind in KINDS:
        yield _line(kind, [call for run in runs for call in run if call.kind == kind])


def _line(name: str, calls: Sequence[Taken]) -> str:
    number = max(1, len(calls))
    plain, learned = sum(call.plain for call in calls), sum(call.learned for call in calls)
    return f"| {name} | {len(calls)} | {plain / number:.2f} | {learned / number:.2f} |"


def main() -> int:
    """Print the curve; exit status 1 where learning does not help in the last window."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.replay")
    parser.add_argument("--evening", action="store_true", help="accept after every 50 calls")
    parser.add_argument("--probability", type=float, default=ACCEPTED)
    parser.add_argument("--days", type=int, default=DAYS)
    given = parser.parse_args()
    library, _ = load(shipped())
    every = parse_queries(CALLS.read_text(encoding="utf-8"), CALLS.name)
    calls, _ = only_known([call for call in every if call.best], library.articles)
    found = documents(library, load_trees(library), {})
    replay, chance = Replay(found, library.words, kept_for(shipped())), random.Random(SEED)
    author = Author(given.probability, EVENING if given.evening else 1)
    days = [day(calls, NUMBER, chance) for _ in range(given.days)]
    runs = [list(replay.run(one, author, SEED + at)) for at, one in enumerate(days)]
    sys.stdout.write("\n".join(table(runs, WINDOW)) + "\n")
    late = [call for run in runs for call in run[-WINDOW:]]
    return 0 if sum(call.learned for call in late) > sum(call.plain for call in late) else 1


if __name__ == "__main__":
    sys.exit(main())
