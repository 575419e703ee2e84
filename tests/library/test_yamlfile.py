"""YAML with lines: every scalar stays text, and nothing is lost silently."""

from __future__ import annotations

import pytest

from kb.library.yamlfile import read_yaml


def test_scalars_stay_the_text_that_was_written() -> None:
    # By YAML 1.1 (yaml.org/type: bool, int, timestamp, null) each of these would be something else.
    source = "a: on\nb: 10:30\nc: 2026-11-03\nd: ~\ne: 0777\nf: 1_000\n"
    assert read_yaml(source).value == {
        "a": "on",
        "b": "10:30",
        "c": "2026-11-03",
        "d": "~",
        "e": "0777",
        "f": "1_000",
    }


def test_every_path_has_its_line() -> None:
    result = read_yaml("a: 1\nb:\n  - x\n  - k: v\n", first_line=10)
    assert result.lines == {"a": 10, "b": 11, "b.0": 12, "b.1": 13, "b.1.k": 13}


def test_a_key_that_stands_twice_is_told_where_it_stands_again() -> None:
    result = read_yaml("a: 1\nb: {c: 1, c: 2}\na: 3\n")
    assert [(line, kind) for line, kind, _ in result.faults] == [(2, "duplicate"), (3, "duplicate")]


@pytest.mark.parametrize(
    ("source", "line"),
    [
        ("a: [1\nb: 2\n", 2),
        ("a: b: c\n", 1),
        ("ok: 1\ntitle: 'never\nclosed\n", 2),
        ("- a\n- b\n", 1),
        ("just words\n", 1),
        ("a: &x 1\nb: *x\n", 2),
        ("a: !!python/object:os.system x\n", 1),
        ("a: !thing x\n", 1),
        ("a: \x07\n", 1),
    ],
)
def test_what_is_no_plain_mapping_is_told_with_its_line(source: str, line: int) -> None:
    result = read_yaml(source)
    assert [(at, kind) for at, kind, _ in result.faults] == [(line, "syntax")]
    assert result.value == {}


def test_a_small_file_cannot_unfold_into_a_huge_one() -> None:
    rows = ["a0: &a0 [x, x]"] + [f"a{i}: &a{i} [*a{i - 1}, *a{i - 1}]" for i in range(1, 40)]
    assert read_yaml("\n".join(rows)).value == {}


def test_nothing_is_an_empty_mapping() -> None:
    assert read_yaml("").value == {}
    assert read_yaml("").faults == []
