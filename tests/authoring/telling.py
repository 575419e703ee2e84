"""A small library and edits of it, for the tests of the room."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from kb.authoring.edits import Decision, Edit
from kb.base.ids import fingerprint

GOOD = Path(__file__).parent.parent / "fixtures" / "library_good"
WHERE = "scanner/paper-stuck.md"
SLUG = "paper-stuck"
SHIPPED = (GOOD / WHERE).read_text(encoding="utf-8")
CHANGED = SHIPPED.replace("No force.", "No force, and no tools.")
OTHER = SHIPPED.replace('"It is stuck."', '"It is stuck fast."')
NOW = datetime(2026, 11, 2, 9, 0, tzinfo=UTC)


def later(minutes: float) -> datetime:
    return NOW + timedelta(minutes=minutes)


def draft(
    identifier: str = "e1", text: str = CHANGED, author: str = "ann", base: str = SHIPPED, **given
) -> Edit:
    values = {"slug": SLUG, "where": WHERE, "shipped": fingerprint(SHIPPED), "note": "why", **given}
    return Edit(
        id=identifier, base=fingerprint(base) if base else "", text=text, author=author, begun=NOW,
        changed=NOW, **values,
    )  # fmt: skip


def decision(reader: str = "ben", revision: int = 1, reason: str = "") -> Decision:
    return Decision(reader, revision, reason, later(60))
