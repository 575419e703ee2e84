"""The library as a list of its texts' hashes: what an election is frozen with.

Words that search takes to mean the same, and accepted phrases, stand outside: they may still be
learned on the day.
"""

from __future__ import annotations

from kb.base.ids import fingerprint
from kb.library.article import Library


def manifest(library: Library) -> str:
    """A line "hash  slug" for each article and tree, and "hash  question of ID" for each rule.

    Its own SHA-256 is the library's hash.
    """
    lines = {slug: one.hash for slug, one in library.articles.items()}
    lines |= {slug: fingerprint(one.text) for slug, one in library.trees.items()}
    lines |= {
        f"question of {rule}": fingerprint(question)
        for rule, question in library.rules.questions.items()
    }
    return "".join(f"{hash_}  {name}\n" for name, hash_ in sorted(lines.items()))


def changed(before: str, after: str) -> list[str]:
    """The names that differ between two lists: changed, gone or new."""
    old, new = _read(before), _read(after)
    return sorted(name for name in old.keys() | new.keys() if old.get(name) != new.get(name))


def _read(text: str) -> dict[str, str]:
    return {name: hash_ for hash_, _, name in (line.partition("  ") for line in text.splitlines())}
