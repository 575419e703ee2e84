"""What can be counted in the code is told in the docs, and the other way round."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kb.base.settings import Settings
from kb.cli import main
from kb.incidents.kinds import KINDS
from kb.library.codes import RULES as ARTICLE_RULES
from kb.triage.codes import RULES as TREE_RULES

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
WRITING = (ROOT / "articles" / "README.md").read_text(encoding="utf-8")


def told(pattern: str, text: str) -> set[str]:
    return set(re.findall(pattern, text, flags=re.MULTILINE))


def test_commands() -> None:
    assert told(r"^\| `latchbook ([a-z]+)", README) == set(main.commands)


def test_options_of_commands_exist() -> None:
    for line in re.findall(r"^\| `latchbook (.+?)` \|", README, flags=re.MULTILINE):
        known = {name for option in main.commands[line.split()[0]].params for name in option.opts}
        assert set(re.findall(r"--[a-z]+(?:-[a-z]+)*", line)) <= known, line


def test_each_requirement_of_sign_in_has_a_test_that_names_it() -> None:
    section = DEVELOPERS.partition("## Sign-in and sessions")[2].partition("\n## ")[0]
    rows = re.findall(r"^\| ([\d., ]+) \|", section, flags=re.MULTILINE)
    listed = {one for row in rows for one in row.split(", ")}
    files = (
        ROOT / "tests" / "people" / "test_signing.py",
        ROOT / "tests" / "web" / "test_people.py",
    )
    named: set[str] = set()
    for path in files:
        for line in re.findall(r'"""ASVS .*', path.read_text(encoding="utf-8")):
            named |= set(re.findall(r"\d+\.\d+\.\d+", line))
    # 7.1.1 and 7.1.2 ask for words: they are these.
    assert listed - {"7.1.1", "7.1.2"} == named


@pytest.mark.parametrize("command", main.commands)
def test_help_of_each_command_gives_an_example(command: str) -> None:
    assert f"Example: latchbook {command}" in (main.commands[command].help or "")


def test_settings() -> None:
    section = README.split("### Settings")[1]
    assert told(r"^\| `([a-z_]+)`", section) == set(Settings.model_fields)


def test_event_kinds() -> None:
    section = DEVELOPERS.split("## Event kinds")[1].split("## Addresses")[0]
    assert told(r"`([a-z]+\.[a-z]+)`", section) == set(KINDS)


def test_rules_of_the_check() -> None:
    assert told(r"^\| (LB\d+) \|", WRITING) == ARTICLE_RULES.keys() | TREE_RULES.keys()
