"""An article's file becomes an Article; what is wrong in it leaves the rest standing."""

from __future__ import annotations

import hashlib
from datetime import date
from pathlib import Path

import pytest

from kb.library.parse import parse_article

FIXTURES = Path(__file__).parent.parent / "fixtures"
STUCK = (FIXTURES / "library_good" / "scanner" / "paper-stuck.md").read_text(encoding="utf-8")


def test_every_field_is_read_in_its_type() -> None:
    article, problems = parse_article(STUCK, "articles/scanner/paper-stuck.md")
    assert problems == []
    assert article is not None
    assert (article.slug, article.kind, article.language) == ("paper-stuck", "fault", "en")
    assert article.phase == ("opening", "voting")
    assert article.phrases[5] == "no: it will not move"
    assert article.minutes == 4.5
    assert article.reviewed == date(2026, 11, 1)
    assert article.redirect is None
    assert article.body.lstrip().startswith("Use this when paper shows.")
    assert article.hash == hashlib.sha256(STUCK.encode()).hexdigest()


def test_lines_are_those_of_the_file() -> None:
    article, _ = parse_article(STUCK, "x.md")
    assert article is not None
    lines = STUCK.split("\n")
    assert lines[article.line("phrases.0") - 1] == "  - it is stuck"
    assert lines[article.line("minutes") - 1] == "minutes: 4.5"
    assert "\n".join(lines[article.line("body") - 1 :]) == article.body
    assert article.line("no-such-field") == 1


def test_a_lone_text_is_a_list_of_one() -> None:
    article, _ = parse_article(STUCK.replace("phase: [opening, voting]", "phase: voting"), "x.md")
    assert article is not None
    assert article.phase == ("voting",)


def test_a_field_at_fault_leaves_the_others() -> None:
    broken = STUCK.replace("minutes: 4.5", "minutes: soon").replace("[opening,", "[lunch,")
    article, problems = parse_article(broken, "x.md")
    assert article is not None
    assert article.minutes is None
    assert article.phase == ("voting",)
    assert article.stop
    assert [(one.code, one.field) for one in problems] == [
        ("LB106", "minutes"),
        ("LB107", "phase.0"),
    ]


@pytest.mark.parametrize("minutes", ["0", "-1", "nan", "inf", "1e400", "[5]"])
def test_minutes_are_a_number_above_nothing(minutes: str) -> None:
    _, problems = parse_article(STUCK.replace("4.5", minutes), "x.md")
    assert [(one.code, one.field) for one in problems] == [("LB106", "minutes")]


@pytest.mark.parametrize(
    "day", ["20261101", "2026-W45-1", "2026-02-30", "11/01/2026", "1761955200"]
)
def test_a_date_is_written_in_one_way(day: str) -> None:
    _, problems = parse_article(STUCK.replace("2026-11-01", day), "x.md")
    assert [(one.code, one.field) for one in problems] == [("LB106", "reviewed")]


@pytest.mark.parametrize("day", ["2026-11-01", "2024-02-29"])
def test_a_full_date_is_a_date(day: str) -> None:
    article, problems = parse_article(STUCK.replace("2026-11-01", day), "x.md")
    assert problems == []
    assert article is not None
    assert str(article.reviewed) == day


def test_a_message_says_what_may_have_been_meant() -> None:
    _, problems = parse_article(STUCK.replace("symptom: jam", "symptom: jamm"), "x.md")
    assert "did you mean 'jam'?" in problems[0].message
    _, problems = parse_article(STUCK.replace("symptom:", "symptoms:"), "x.md")
    assert [one.code for one in problems] == ["LB104", "LB105"]
    assert "did you mean 'symptom'?" in problems[0].message


def test_a_note_needs_only_a_title() -> None:
    article, problems = parse_article("---\ntitle: A\nkind: note\n---\nText.\n", "n.md")
    assert problems == []
    assert article is not None
    assert (article.equipment, article.phrases, article.reviewed) == ("", (), None)


def test_a_file_without_front_matter_is_no_article() -> None:
    for text in ("", "Text.\n", "---\n", "---\ntitle: A\n", "\n---\ntitle: A\n---\n"):
        article, problems = parse_article(text, "x.md")
        assert article is None
        assert [one.code for one in problems] == ["LB101"], text
