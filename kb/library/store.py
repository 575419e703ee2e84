"""Reads a folder of articles, trees, words and local rules; the only file access of the room."""

from __future__ import annotations

from pathlib import Path

from kb.base.errors import Problem, StateError
from kb.library.article import Article, Library, TreeSource
from kb.library.parse import parse_article
from kb.library.rules import Rules, parse_rules
from kb.library.words import Words, parse_words

WORDS = "words.yaml"
RULES = "local-rules.yaml"
TREES = "trees"
# Pages for people who write articles, not articles themselves.
NOT_ARTICLES = {"README.md"}


def load(folder: Path) -> tuple[Library, list[Problem]]:
    """Read all of a folder, with every fault found in reading.

    Files in a folder `trees` are trees, any other `.md` is an article; a flat folder without
    words or local rules is fine. Of files with one slug the first by path is kept (LB115).
    Raises StateError where there is no such folder.
    """
    if not folder.is_dir():
        raise StateError(f"there is no folder of articles at {folder}; name one that exists")
    problems: list[Problem] = []
    articles: dict[str, Article] = {}
    trees: dict[str, TreeSource] = {}
    first: dict[str, str] = {}
    for path in _markdown_files(folder):
        where = path.as_posix()
        text = _read(path, problems)
        if text is None:
            continue
        if path.stem in first:
            problems.append(_twice(where, path.stem, first[path.stem]))
            continue
        first[path.stem] = where
        if path.parent.name == TREES:
            trees[path.stem] = TreeSource(path.stem, text, where)
            continue
        article, faults = parse_article(text, where)
        problems += faults
        if article is not None:
            articles[article.slug] = article
    words, rules = _words(folder / WORDS, problems), _rules(folder / RULES, problems)
    return Library(articles, trees, words, rules, folder), sorted(problems)


def source(text: Article | TreeSource) -> str:
    """Return the whole text of a file of a loaded library, as `load` read it."""
    if isinstance(text, TreeSource):
        return text.text
    return Path(text.where).read_text(encoding="utf-8-sig")


def shipped() -> Path:
    """Return the folder of the starter library: in an installed program, else the checkout's."""
    package = Path(__file__).parent.parent
    installed = package / "_shipped" / "articles"
    return installed if installed.is_dir() else package.parent / "articles"


def _markdown_files(folder: Path) -> list[Path]:
    found = (path for path in folder.rglob("*.md") if path.name not in NOT_ARTICLES)
    return sorted(
        path
        for path in found
        if not any(part.startswith(".") for part in path.relative_to(folder).parts)
    )


def _twice(where: str, slug: str, other: str) -> Problem:
    message = f"the slug '{slug}' is already the name of {other}; rename one of them"
    return Problem(where, 1, "LB115", message, field="slug")


def _read(path: Path, problems: list[Problem]) -> str | None:
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        message = f"this is not UTF-8 text (byte {error.start}); save it as UTF-8"
        problems.append(Problem(path.as_posix(), 0, "LB100", message))
        return None


def _words(path: Path, problems: list[Problem]) -> Words:
    text = _read(path, problems) if path.is_file() else None
    if text is None:
        return Words()
    words, faults = parse_words(text, path.as_posix())
    problems += faults
    return words


def _rules(path: Path, problems: list[Problem]) -> Rules:
    text = _read(path, problems) if path.is_file() else None
    if text is None:
        return Rules()
    rules, faults = parse_rules(text, path.as_posix())
    problems += faults
    return rules
