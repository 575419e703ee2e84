"""Publishes edits of one article one after the other, until it is killed.

Says "handed-in ID" and "published ID" on standard output once each is stored.
"""

from __future__ import annotations

import sys
from pathlib import Path

from kb.authoring import edits
from kb.authoring.store import Editions
from kb.base.database import Store
from kb.base.ids import fingerprint
from tests.authoring.telling import SHIPPED, SLUG, decision, draft, later


def text(number: int) -> str:
    """Version `number`: every line says so, that half a text would show."""
    return "".join(f"version {number}, line {line}\n" for line in range(400))


def main(path: Path) -> None:
    """Publish for ever."""
    editions = Editions(Store(path))
    shipped = fingerprint(SHIPPED)
    while True:
        number = editions.version() + 1
        base = editions.published()[SLUG].text if number > 1 else SHIPPED
        edit = draft(f"{number}-{fingerprint(base)[:8]}", text(number), base=base)
        # A kill may have fallen between any two of these steps.
        known = {one.id: one.state for one in editions.edits()}
        if edit.id not in known:
            editions.begin(edit, [base])
        if known.get(edit.id, "draft") == "draft":
            editions.change(edit.id, lambda old: edits.hand_in(old, "ann", 1, later(1)))
        sys.stdout.write(f"handed-in {edit.id}\n")
        sys.stdout.flush()
        editions.publish(edit.id, decision(), shipped)
        sys.stdout.write(f"published {edit.id}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
