"""What the worksheet's pages show, and their form read into a sheet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from flask import request

from kb.authoring.manifest import changed, manifest
from kb.authoring.sheet import LONGEST_NOTE, Sheet, parse_sheet, sheet_yaml
from kb.authoring.worksheet import Worksheet, by_rule
from kb.base.clock import now
from kb.base.errors import NotFound
from kb.incidents.places import Election
from kb.library.ownwords import TERMS, OwnWord
from kb.library.passages import Use, uses
from kb.web.county import county
from kb.web.forms import Form

# The three choices of a question; the last takes an answer back.
CHOICES = {"yes": "yes", "no": "no", "none": "not answered"}
_ANSWERS = {"yes": True, "no": False}
# The form's fields of each term's own words.
FIELDS = {term: f"word-{number}" for number, term in enumerate(TERMS, 1)}


@dataclass(frozen=True)
class Row:
    """One question with its answer (None: not answered), note, and where it is used."""

    rule: str
    question: str
    answer: bool | None
    note: str
    uses: tuple[Use, ...]

    @property
    def choice(self) -> str:
        """The choice that is ticked; none where nothing is answered."""
        return {True: "yes", False: "no", None: ""}[self.answer]


@dataclass(frozen=True)
class Change:
    """A question whose answer changes, and what that shows or hides."""

    row: Row
    before: bool | None
    after: bool | None


def election() -> Election | None:
    """The election that the request names, else the one at hand. Raises NotFound."""
    named = request.values.get("election", "")
    if not named:
        return county().election(now())
    found = county().record.election(named)
    if found is None:
        raise NotFound(f"There is no election '{named}'. The Office page lists those there are.")
    return found


def named_election() -> Election:
    """The same where there must be one."""
    found = election()
    if found is None:
        raise NotFound("No election is set up yet. An administrator imports elections first.")
    return found


def groups(sheet: Sheet) -> dict[str, list[Row]]:
    """All questions by what they are about."""
    rules, used = county().library.rules, uses(county().library)
    return {
        about or "other questions": [
            Row(
                rule,
                rules.questions[rule],
                sheet.answers.get(rule),
                sheet.notes.get(rule, ""),
                tuple(used.get(rule, ())),
            )
            for rule in ids
        ]
        for about, ids in rules.groups().items()
    }


def changes(before: Sheet, after: Sheet) -> list[Change]:
    """The answers that differ between two sheets, in the order of the worksheet."""
    rows = {row.rule: row for group in groups(after).values() for row in group}
    found = by_rule(before.answers, after.answers, county().library.rules.questions)
    return [
        Change(rows.get(rule) or Row(rule, rule, new, "", ()), old, new) for rule, old, new in found
    ]


def new_words(before: Sheet, after: Sheet) -> list[tuple[str, OwnWord | None, OwnWord | None]]:
    """The own words that differ, as (term, before, after)."""
    pairs = ((term, before.words.get(term), after.words.get(term)) for term in TERMS)
    return [(term, old, new) for term, old, new in pairs if old != new]


def library_changes(worksheet: Worksheet) -> list[str]:
    """Articles, trees and questions that differ from what the election was frozen with."""
    if worksheet.frozen is None:
        return []
    return changed(worksheet.frozen.text, manifest(county().library))


def read(form: Form, identifier: str) -> Sheet | None:
    """The sheet that the form holds; None where a field is at fault."""
    rules = county().library.rules.questions
    ticked = {rule: form.choice(f"answer-{rule}", CHOICES) for rule in rules}
    notes = {rule: form.text(f"note-{rule}", longest=LONGEST_NOTE) for rule in rules}
    typed = {
        term: OwnWord(form.text(field), form.text(f"{field}-many"))
        for term, field in FIELDS.items()
    }
    sheet = Sheet(
        identifier,
        {rule: _ANSWERS[said] for rule, said in ticked.items() if said in _ANSWERS},
        {rule: note for rule, note in notes.items() if note},
        {term: own for term, own in typed.items() if own.one or own.many},
    )
    # The same check as a file's: what can be saved here can be read there.
    found, problems = parse_sheet(sheet_yaml(sheet), "form", rules)
    for problem in problems:
        form.problems[_field(problem.field.split("."))] = problem.message
    return None if form.problems else found


def _field(path: Iterable[str]) -> str:
    part, name, *inner = [*path, ""]
    if part == "words" and name in FIELDS:
        return FIELDS[name] + ("-many" if inner[:1] == ["many"] else "")
    return f"note-{name}" if part == "notes" else f"answer-{name}-1"
