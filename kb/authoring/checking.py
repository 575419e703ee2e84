"""A draft held against the same rules as `latchbook check`, within the whole library.

Reading all texts takes seconds, and an author waits for the answer at every pause. So texts
that have nothing to do with the draft stand there with their front matter only, which is what
slugs, phrases and codes are compared by. What is at fault for that reason is so with the text
in force as well, and what is at fault with both is not told.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from kb.authoring.edits import is_tree
from kb.authoring.overlay import Published, apply
from kb.base.errors import Problem
from kb.library.article import Article, Library, TreeSource
from kb.triage.check import check_all

# What stands for the steps of a tree that the draft has nothing to do with.
_ONE_END = "{#end .end outcome=rover voting=same-device}\n## Send a rover\n"


@dataclass(frozen=True)
class Findings:
    """What is wrong in the draft itself, and the errors that it causes in other files."""

    own: tuple[Problem, ...]
    elsewhere: tuple[Problem, ...] = ()

    @property
    def errors(self) -> list[Problem]:
        """What keeps the draft from being handed in."""
        return [one for one in (*self.own, *self.elsewhere) if not one.warning]


def check_draft(library: Library, draft: Published, today: date) -> Findings:
    """Check a draft over the library that is in force, with the rules of articles and trees."""
    near = _near(library, draft)
    where = (library.folder / draft.where).as_posix()
    changed, problems = apply(near, {draft.slug: draft})
    found = {*problems, *check_all(changed, today)}
    own = [one for one in found if one.where == where]
    others = {one for one in found if one.where != where and not one.warning}
    if others:
        others -= set(check_all(near, today))
    return Findings(_shown(own, library), _shown(others, library))


def _near(library: Library, draft: Published) -> Library:
    articles = {
        slug: article if _is_near(article, draft) else replace(article, body="")
        for slug, article in library.articles.items()
    }
    whole = _related(library.trees, draft)
    trees = {
        slug: tree if slug in whole else replace(tree, text=_front_of(tree.text))
        for slug, tree in library.trees.items()
    }
    return replace(library, articles=articles, trees=trees)


def _is_near(article: Article, draft: Published) -> bool:
    names_it = draft.slug in article.body or article.translates == draft.slug
    return names_it or article.slug in draft.text


def _related(trees: Mapping[str, TreeSource], draft: Published) -> set[str]:
    """Trees that name the draft or are named in it; of a tree also those that these lead to."""
    texts = {slug: tree.text for slug, tree in trees.items()} | {draft.slug: draft.text}
    related: set[str] = set()
    waiting = [draft.slug]
    while waiting:
        slug = waiting.pop()
        related.add(slug)
        if slug == draft.slug or is_tree(draft.where):
            waiting += (
                other
                for other in trees
                if other not in related and (other in texts[slug] or slug in texts[other])
            )
    return related


def _front_of(text: str) -> str:
    front, _, _ = text.removeprefix("---\n").partition("\n---\n")
    return f"---\n{front}\n---\n\n{_ONE_END}"


def _shown(problems: Iterable[Problem], library: Library) -> tuple[Problem, ...]:
    """With paths within the library: where the server keeps it is no author's business."""
    folder = f"{library.folder.as_posix()}/"
    shown = (
        replace(one, where=one.where.removeprefix(folder), message=one.message.replace(folder, ""))
        for one in problems
    )
    return tuple(sorted(shown))
