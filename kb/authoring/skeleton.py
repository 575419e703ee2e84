"""The first lines of a new article or tree: its fields and headings, to be filled in."""

from __future__ import annotations

import json
from datetime import date

from kb.library.article import SECTIONS

_FIELDS = {
    "fault": ("symptom:", "phrases:", "stop:", "record: [base]", "effect:"),
    "procedure": ("phrases:", "stop:", "record: [base]"),
    "checklist": ("stop:", "record: [base]"),
}
_TREE = """{#first}
## What is the question?

- [Yes](#works)
- [No](#send-rover)

{#works .end outcome=fixed voting=same-device}
## Working again

{#send-rover .end outcome=rover voting=same-device effect=device}
## Send a rover
"""


def article(kind: str, title: str, equipment: str, today: date) -> str:
    """A new article of a kind of `SECTIONS`, with what the linter will ask for left open."""
    fields = [_title(title)]
    if kind != "fault":
        fields.append(f"kind: {kind}")
    if kind != "note":
        fields += [f"equipment: {equipment}", "phase: [voting]", *_FIELDS[kind], *_last(today)]
    headings = [f"\n## {heading}\n" for heading, needed in SECTIONS[kind].items() if needed]
    return "\n".join(["---", *fields, "---", *headings, ""])


def tree(title: str, equipment: str, today: date) -> str:
    """A new tree with one question and two ends."""
    fields = [_title(title), f"equipment: {equipment}", "phase: [voting]", "phrases:", "stop:"]
    return "\n".join(["---", *fields, *_last(today), "---", "", _TREE])


def _title(title: str) -> str:
    return f"title: {json.dumps(title, ensure_ascii=False)}"


def _last(today: date) -> list[str]:
    return ["sources: [common practice]", f"reviewed: {today}"]
