"""A tree's file becomes steps, branches and texts, as the format describes."""

from __future__ import annotations

from pathlib import Path

from kb.triage.parse import parse_tree
from kb.triage.tree import Branch

GOOD = Path(__file__).parent.parent / "fixtures" / "library_good" / "trees" / "paper-tree.md"
TEXT = GOOD.read_text(encoding="utf-8")


def test_steps_are_read_in_their_order_with_their_kinds() -> None:
    tree, problems = parse_tree(TEXT, "trees/paper-tree.md")
    assert problems == []
    assert tree is not None
    assert (tree.slug, tree.first) == ("paper-tree", "shows")
    assert [(one.id, one.kind) for one in tree.steps.values()] == [
        ("shows", "question"),
        ("pull", "fix"),
        ("works", "end"),
        ("rover", "end"),
    ]


def test_a_fix_has_minutes_and_chance_and_an_end_what_it_says() -> None:
    tree, _ = parse_tree(TEXT, "paper-tree.md")
    assert tree is not None
    assert (tree.steps["pull"].minutes, tree.steps["pull"].chance) == (2, 0.4)
    rover = tree.steps["rover"]
    assert (rover.outcome, rover.voting, rover.effect) == ("rover", "emergency-bin", "slowed")


def test_branches_are_the_links_of_the_list() -> None:
    tree, _ = parse_tree(TEXT, "paper-tree.md")
    assert tree is not None
    assert tree.steps["shows"].branches == (
        Branch("Yes", "paper-tree", "pull"),
        Branch("No", "paper-tree", "rover"),
        Branch("I can't tell", "other-tree", ""),
    )


def test_help_is_the_text_without_the_branches() -> None:
    tree, _ = parse_tree(TEXT, "paper-tree.md", lambda slug: f"/a/{slug}")
    assert tree is not None
    assert tree.steps["shows"].help_html == "<p>Look only.</p>"
    assert tree.steps["shows"].help_text == "Look only."
    assert "<li>Write down the counter.</li>" in tree.steps["rover"].help_html
    assert 'href="/a/paper-stuck"' in tree.intro_html
    assert tree.intro_text.endswith("No force.")


def test_lines_are_those_of_the_file() -> None:
    tree, _ = parse_tree(TEXT, "paper-tree.md")
    assert tree is not None
    lines = TEXT.split("\n")
    for step in tree.steps.values():
        assert lines[step.line - 1] == f"## {step.heading}"
        for branch in step.branches:
            assert lines[branch.line - 1].startswith(f"- [{branch.label}]")


def test_a_list_in_a_help_text_is_no_answer() -> None:
    text = TEXT.replace(
        "Look only.", "- Look only.\n- Read [this](../scanner/paper-stuck.md) too.\n\nThen:"
    )
    tree, problems = parse_tree(text, "paper-tree.md")
    assert problems == []
    assert tree is not None
    assert len(tree.steps["shows"].branches) == 3
    assert tree.steps["shows"].help_text == "Look only.\nRead this too.\nThen:"


def test_a_file_that_cannot_be_read_is_no_tree() -> None:
    for text in ("", "## Step\n", "---\ntitle: A\n---\n"):
        tree, problems = parse_tree(text, "x.md")
        assert tree is None
        assert problems


def test_text_under_a_local_rule_stands_only_where_the_answer_is_yes() -> None:
    text = TEXT.replace("\n{#", "\nWait. [Use the second box.]{.if rule=second-box}\n\n{#", 1)
    for answers, said, unset in (
        ({}, False, ("second-box",)),
        ({"second-box": False}, False, ()),
        ({"second-box": True}, True, ()),
    ):
        tree, _ = parse_tree(text, "trees/x.md", answers=answers)
        assert tree is not None
        assert ("second box" in tree.intro_text, "second box" in tree.intro_html) == (said, said)
        assert tree.unset == unset
