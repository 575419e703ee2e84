"""What words.yaml says about a call: which words mean the same, which are filler.

Prepared once for an index, so that reading a call is a few look-ups. All comparing is by stem.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from kb.library.words import Words
from kb.search.text import stem, words

# How much a stand-in counts beside the word itself. A translation is nearly the word; another
# way of saying it less, as groups are made for many situations.
SAME = 0.7
TRANSLATED = 0.9

# They turn the meaning of a fault around, so no list may declare them filler.
KEPT = frozenset({"no", "not", "on", "off", "out", "up"})

Terms = tuple[tuple[str, float], ...]


class Wording:
    """Groups, translations and filler, by their first stem."""

    def __init__(self, source: Words) -> None:
        self._stop: dict[str, list[tuple[str, ...]]] = defaultdict(list)
        for filler in source.stop:
            said = tuple(words(filler, wholes=False))
            if said and not _meaningful(said):
                self._stop[said[0]].append(said)
        means: dict[tuple[str, ...], dict[str, float]] = defaultdict(dict)
        groups = [(group.said, group.means, SAME) for group in source.same]
        groups += [((said,), meant, TRANSLATED) for said, meant in source.spanish.items()]
        for said, meant, weight in groups:
            for one in said:
                key = tuple(map(stem, words(one, wholes=False)))
                self._add(means[key], key, meant, weight)
        self._means = {key: tuple(targets.items()) for key, targets in means.items() if targets}
        self._longest = max((len(said) for said in self._means), default=0)
        every = [*(said for group in source.same for said in group.said), *source.spanish]
        self.vocabulary = {word for said in every for word in words(said)}

    def _add(
        self, targets: dict[str, float], key: Sequence[str], means: Iterable[str], weight: float
    ) -> None:
        for meant in means:
            parts = [stem(word) for word in words(meant) if not self.is_filler(word)]
            for part in parts:
                if part not in key:
                    targets[part] = max(targets.get(part, 0), weight / len(parts))

    def is_filler(self, word: str) -> bool:
        """Whether one word alone is filler."""
        return (word,) in self._stop.get(word, ())

    def meanings(self, stems: Sequence[str]) -> Terms:
        """Return the stems that the given run of stems also stands for, with their weights."""
        return self._means.get(tuple(stems), ())

    def runs(self, stems: Sequence[str]) -> list[tuple[int, int]]:
        """Return where listed runs of two and more words stand: longest first, none overlapping."""
        found: list[tuple[int, int]] = []
        at = 0
        while at < len(stems):
            ends = range(min(len(stems), at + self._longest), at + 1, -1)
            end = next((end for end in ends if tuple(stems[at:end]) in self._means), None)
            if end is None:
                at += 1
            else:
                found.append((at, end))
                at = end
        return found

    def without_filler(self, said: Sequence[str]) -> list[int]:
        """Return the places of the words that are no filler; all of them when nothing is left."""
        kept: list[int] = []
        at = 0
        while at < len(said):
            runs = self._stop.get(said[at], ())
            length = max(
                (len(run) for run in runs if tuple(said[at : at + len(run)]) == run), default=0
            )
            if not length:
                kept.append(at)
            at += length or 1
        return kept or list(range(len(said)))


def _meaningful(said: Sequence[str]) -> bool:
    return len(said) == 1 and (said[0] in KEPT or len(said[0]) == 1)
