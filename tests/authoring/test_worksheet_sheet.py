"""The worksheet's file: what is written is read again, and all faults are told at once."""

from __future__ import annotations

import hashlib
from datetime import date

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from kb.authoring.sheet import Sheet, Signature, parse_sheet, sheet_yaml
from kb.library.ownwords import TERMS, OwnWord
from kb.library.rules import Rules
from kb.library.store import load, shipped

RULES = Rules({"lift": "May two lift it?", "restart": "May it be restarted?"}, {"lift": "scanner"})
SHEET = Sheet(
    "fall",
    {"lift": True, "restart": False},
    {"lift": "Procedure 4.2: yes"},
    {"rover": OwnWord("field technician", "field technicians")},
    Signature("Dana Quill", "County counsel", date(2026, 10, 1)),
)
LINE = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=60).map(
    lambda text: " ".join(text.split())
)


def test_a_file_as_the_readme_shows_it() -> None:
    text = (
        "election: fall\nanswers:\n  restart: no\n  lift: yes\n"
        "notes:\n  lift: 'Procedure 4.2: yes'\n"
        "words:\n  rover: {one: field technician}\n"
        "signed: {by: Dana Quill, office: County counsel, date: 2026-10-01}\n"
    )
    assert parse_sheet(text, "a.yaml", RULES.questions) == (SHEET, [])


@pytest.mark.parametrize("rules", [None, RULES])
def test_what_is_written_is_read_again(rules: Rules | None) -> None:
    assert parse_sheet(sheet_yaml(SHEET, rules), "a.yaml", RULES.questions) == (SHEET, [])


@given(note=LINE, by=LINE.filter(bool))
def test_any_line_of_text_comes_back(note: str, by: str) -> None:
    notes = {"lift": note} if note else {}
    sheet = Sheet("fall", notes=notes, signed=Signature(by, "yes", date(2026, 1, 2)))
    assert parse_sheet(sheet_yaml(sheet), "a.yaml")[0] == sheet


def test_other_programs_read_it_as_plain_yaml() -> None:
    read = yaml.safe_load(sheet_yaml(SHEET))
    assert read["answers"] == {"lift": True, "restart": False}
    assert read["signed"]["date"] == date(2026, 10, 1)
    assert read["words"] == {"rover": {"one": "field technician", "many": "field technicians"}}


def test_the_hash_is_that_of_the_file_and_of_nothing_else() -> None:
    assert SHEET.hash == hashlib.sha256(sheet_yaml(SHEET).encode()).hexdigest()
    turned = Sheet(**{**vars(SHEET), "answers": dict(reversed(SHEET.answers.items()))})
    assert turned.hash == SHEET.hash
    assert Sheet(**{**vars(SHEET), "answers": {"lift": True}}).hash != SHEET.hash


def test_the_sheet_to_fill_in_has_each_shipped_question_unanswered() -> None:
    rules = load(shipped())[0].rules
    text = sheet_yaml(Sheet("fall"), rules)
    assert all(f"# {question}\n  {rule}:\n" in text for rule, question in rules.questions.items())
    sheet, problems = parse_sheet(text, "a.yaml", rules.questions)
    assert sheet == Sheet("fall")
    assert problems == []
    assert sheet.missing(rules) == list(rules.questions)


FAULTY = """\
answers:
  lift: maybe
  restrat: yes
  restart: yes
  restart: no
notes:
  other: x
words:
  rover: {one: "<b>"}
  porter: {one: usher}
  chief judge: {one: clerk}
  zero report: {one: Clerk}
signed: {by: "", date: 3 October}
extra: 1
"""


def test_all_faults_are_told_at_once_with_their_lines() -> None:
    sheet, problems = parse_sheet(FAULTY, "a.yaml", RULES.questions)
    assert sheet is None
    assert {problem.code for problem in problems} == {"WS101"}
    told = {(problem.line, problem.message) for problem in problems}
    for line, words in [
        (1, "election: write the election's id"),
        (2, "lift: 'maybe' is not known"),
        (3, "'restrat' is not known; did you mean 'restart'?"),
        (5, "'restart' stands twice"),
        (7, "'other' is not known"),
        (9, "rover, one: write words of letters"),
        (10, "'porter' is not known"),
        (13, "by: "),
        (13, "office: this is missing"),
        (13, "'3 October' is not a date"),
        (14, "'extra' is not known"),
    ]:
        assert any(at == line and words in message for at, message in told), (line, words)


def test_two_terms_cannot_have_one_word() -> None:
    text = (
        "election: a\nwords:\n  chief judge: {one: clerk}\n  rover: {one: Clerk, many: runners}\n"
    )
    _, problems = parse_sheet(text, "a.yaml")
    assert [(p.line, "'clerk' is the word for 'chief judge'" in p.message) for p in problems] == [
        (4, True)
    ]


@pytest.mark.parametrize("text", ["", "a: [", "- a\n", "election: x\nanswers: [lift]\n", "\x00"])
def test_what_is_no_sheet_is_told_and_never_raises(text: str) -> None:
    sheet, problems = parse_sheet(text, "a.yaml")
    assert sheet is None
    assert problems


@given(st.text(max_size=200))
def test_no_text_raises(text: str) -> None:
    sheet, problems = parse_sheet(f"election: x\n{text}", "a.yaml", RULES.questions)
    assert (sheet is None) == bool(problems)


def test_every_term_may_have_a_word() -> None:
    own = {term: OwnWord(f"our {term}", f"our {many}") for term, many in TERMS.items()}
    sheet = Sheet("fall", words=own)
    assert parse_sheet(sheet_yaml(sheet), "a.yaml") == (sheet, [])
