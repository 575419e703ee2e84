"""The whole texts of articles and trees as an author needs them: shipped, in force, earlier."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import PurePosixPath

from kb.authoring.edits import Edit, Version
from kb.authoring.merging import Merge, merge
from kb.base.errors import NotFound
from kb.base.ids import fingerprint, new_id
from kb.library.article import Article, TreeSource
from kb.library.front import ArticleFields, read_front
from kb.library.store import source
from kb.web.county import county


@dataclass(frozen=True)
class Text:
    """A file's text and its path within the library; both "" where there is none."""

    where: str = ""
    text: str = ""

    @property
    def hash(self) -> str:
        """The hash of the text; "" where there is none."""
        return fingerprint(self.text) if self.where else ""


@dataclass(frozen=True)
class Standing:
    """What there is under one slug.

    `shipped` is what the program brings along, `current` what is in force, `version` the
    county's own text in force (None where it follows what is shipped). `heeded` is the shipped
    text that the county's own takes account of.
    """

    slug: str
    shipped: Text
    current: Text
    heeded: Text
    version: Version | None

    @property
    def upgraded(self) -> bool:
        """Whether the shipped text has changed since the county's own was begun."""
        return self.version is not None and self.heeded.hash != self.shipped.hash

    @property
    def merged(self) -> Merge:
        """The county's own text with what has changed in the shipped one."""
        return merge(self.heeded.text, self.shipped.text, self.current.text)


def standing(slug: str) -> Standing:
    """What there is under a slug; nothing, for a new one."""
    shipped, editions = _shipped(slug), county().folder.editions
    latest = next(iter(editions.history(slug)), None)
    if latest is None or latest.as_shipped:
        return Standing(slug, shipped, shipped, shipped, None)
    current = Text(latest.where, latest.text)
    heeded = Text(latest.where, editions.text(latest.shipped) or "") if latest.shipped else Text()
    return Standing(slug, shipped, current, heeded, latest)


def existing(slug: str) -> Standing:
    """The same. Raises NotFound where neither the program nor the county has such a text."""
    found = standing(slug)
    if not found.current.where and not county().folder.editions.edits(slug):
        raise NotFound(f"There is no article or tree '{slug}'. The library lists those there are.")
    return found


def upgraded(slug: str) -> bool:
    """Whether the shipped text under a slug has changed since the county's own was begun."""
    return standing(slug).upgraded


def begin_from(found: Standing, way: str, author: str, now: datetime) -> tuple[Edit, list[str]]:
    """A new edit of what is in force, and the texts to be kept for it.

    `way` is where its text comes from: current, shipped, ours (in force, and the shipped text
    heeded), merge (of both), or the number of a version. Raises NotFound for another.
    """
    editions = county().folder.editions
    numbers = {str(one.number): one for one in editions.history(found.slug)}
    heeded, where = found.shipped, found.current.where
    if way in numbers:
        text, where, heeded = numbers[way].text, numbers[way].where, found.heeded
        note = f"Back to version {way}"
    elif way == "current":
        text, heeded, note = found.current.text, found.heeded, ""
    elif way == "shipped" and found.shipped.where:
        text, where, note = found.shipped.text, found.shipped.where, "Back to the shipped text"
    elif way == "ours":
        text, note = found.current.text, "Keep ours beside the new shipped text"
    elif way == "merge":
        text, note = found.merged.text, "Ours with the changes of the new shipped text"
    else:
        raise NotFound(f"There is no version {way} of '{found.slug}'. Its history lists them.")
    edit = Edit(
        id=new_id(),
        slug=found.slug,
        where=where,
        base=found.current.hash,
        shipped=heeded.hash,
        text=text,
        author=author,
        begun=now,
        changed=now,
        note=note,
    )
    return edit, [one.text for one in (found.current, heeded) if one.where]


def title_of(text: Text | Edit | Version) -> str:
    """The title in a text; its slug where that cannot be read."""
    front, _ = read_front(text.text, text.where, ArticleFields)
    return (front.fields.title if front else "") or PurePosixPath(text.where).stem


def _shipped(slug: str) -> Text:
    library = county().shipped
    found: Article | TreeSource | None = library.articles.get(slug) or library.trees.get(slug)
    if found is None:
        return Text()
    where = found.where.removeprefix(f"{library.folder.as_posix()}/")
    return Text(where, source(found))
