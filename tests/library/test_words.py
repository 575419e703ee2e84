"""words.yaml and local-rules.yaml: shapes, and what is left when one is wrong."""

from __future__ import annotations

from kb.library.rules import parse_rules
from kb.library.words import Equipment, Same, parse_words

WORDS = """
equipment:
  - {id: scanner, name: Ballot scanner, other: [tabulator]}
same:
  - {words: [jam, stuck]}
  - {from: [tabulator], to: [scanner]}
spanish:
  no prende: [no power, dead]
  papel: paper
stop: [um]
"""


def test_words_are_read() -> None:
    words, problems = parse_words(WORDS, "words.yaml")
    assert problems == []
    assert words.equipment == (Equipment("scanner", "Ballot scanner", ("tabulator",)),)
    assert words.same == (
        Same(("jam", "stuck"), ("jam", "stuck")),
        Same(("tabulator",), ("scanner",)),
    )
    assert words.spanish == {"no prende": ("no power", "dead"), "papel": ("paper",)}
    assert words.stop == ("um",)


def test_an_equipment_class_has_its_name() -> None:
    words, _ = parse_words(WORDS, "words.yaml")
    assert words.name("scanner") == "Ballot scanner"
    assert words.name("toaster") == "toaster"


def test_one_list_at_fault_leaves_the_others() -> None:
    words, problems = parse_words(WORDS.replace("to: [scanner]", "too: [scanner]"), "words.yaml")
    assert words.same == ()
    assert words.stop == ("um",)
    assert {(one.line, one.code) for one in problems} == {(6, "LB301")}


def test_a_group_has_one_form() -> None:
    for group in ("{words: [a], from: [b], to: [c]}", "{from: [a]}", "{to: [a]}", "{}", "[a, b]"):
        _, problems = parse_words(f"same:\n  - {group}\n", "words.yaml")
        assert [(one.line, one.code) for one in problems] == [(2, "LB301")], group


def test_rules_are_read() -> None:
    text = "rules:\n  - id: second-box\n    question: May a second box be used?\n"
    rules, problems = parse_rules(text, "local-rules.yaml")
    assert problems == []
    assert rules.questions == {"second-box": "May a second box be used?"}


def test_a_rule_is_a_question() -> None:
    text = "rules:\n  - {id: second-box, question: Use a second box.}\n"
    rules, problems = parse_rules(text, "local-rules.yaml")
    assert rules.questions == {}
    assert [(one.line, one.code) for one in problems] == [(2, "LB302")]
    assert "'?'" in problems[0].message
