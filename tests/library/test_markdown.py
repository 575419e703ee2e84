"""The Markdown of the library is CommonMark, with raw HTML off.

Judge: examples of the CommonMark Spec 0.31.2 (tests/fixtures/commonmark, with its notice).
Of all 652 the parser gives 647 byte for byte with raw HTML on. Examples 218, 239 and 240 differ
by a newline in an empty block quote, 96 and 98 because they begin with what is front matter here.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kb.library.markdown import children, inline_text, parse, parser, plain, raw_html_lines, walk

SPEC = Path(__file__).parent.parent / "fixtures" / "commonmark" / "examples.json"
EXAMPLES = json.loads(SPEC.read_text(encoding="utf-8"))


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: str(example["example"]))
def test_an_example_of_the_specification_renders_as_it_says(example: dict[str, str]) -> None:
    assert parser().render(example["markdown"]) == example["html"]


def test_raw_html_is_shown_as_the_text_it_is() -> None:
    assert parser().render("a <b>c</b>") == "<p>a &lt;b&gt;c&lt;/b&gt;</p>\n"


def test_raw_html_is_found_by_line_but_not_in_code() -> None:
    assert raw_html_lines("one\n\ntwo <i>x</i>\n`<b>`\n\n<!-- note -->\n") == [3, 3, 6]


def test_a_script_address_is_no_link() -> None:
    assert "<a" not in parser().render("[x](javascript:alert(1))")


def test_attributes_outside_the_list_do_not_reach_the_token() -> None:
    tokens = [token for _, token in walk(parse("[x]{onclick=y .a style=z}"))]
    assert [token.attrs for token in tokens if token.type == "span_open"] == [{"class": "a"}]


def test_lines_are_counted_inside_a_paragraph_too() -> None:
    found = [line for line, token in walk(parse("a\n\nb\nc [d](e)\n")) if token.tag == "a"]
    assert found == [4, 4]


def test_children_are_the_outermost_elements() -> None:
    tokens = parse("# a\n\n- b\n  - c\n\nd\n")
    assert [one[0].type for one in children(tokens)] == [
        "heading_open",
        "bullet_list_open",
        "paragraph_open",
    ]


def test_plain_text_has_a_line_for_each_block() -> None:
    assert plain(parse("# a *b*\n\n- c\n  d `e`\n- [f](g)\n\n    code\n")) == "a b\nc d e\nf\ncode"


def test_inline_text_keeps_what_pictures_stand_for() -> None:
    inline = parse("see ![the slot](a.png) now")[1]
    assert inline_text(inline.children or []) == "see the slot now"
