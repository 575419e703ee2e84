"""Where a link in a text leads: to a file of the library by its slug, or elsewhere."""

from __future__ import annotations

import posixpath
from dataclasses import dataclass
from urllib.parse import unquote, urlsplit


@dataclass(frozen=True)
class Target:
    """A file of the library: its path as the link gives it, its slug, and a step's id or ""."""

    path: str
    slug: str
    step: str

    def seen_from(self, where: str) -> str:
        """Return the path of the file, when the link stands in the file `where`."""
        return posixpath.normpath(posixpath.join(posixpath.dirname(where), self.path))


def target(href: str) -> Target | None:
    """Read a link's address; None where it leads to no Markdown file beside this one."""
    parts = urlsplit(href)
    path = unquote(parts.path)
    if parts.scheme or parts.netloc or not path.endswith(".md"):
        return None
    slug = posixpath.basename(path).removesuffix(".md")
    return Target(path, slug, unquote(parts.fragment))
