"""The linter of local rules in an article: what is used, declared and known must agree."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from markdown_it.token import Token

from kb.library.fields import unknown
from kb.library.markdown import walk
from kb.library.rules import Rules, is_conditional, rule_of

Finding = tuple[int, str, str]


def local_rules(
    declared: Mapping[str, int], tokens: Sequence[Token], rules: Rules
) -> Iterator[Finding]:
    """LB303 to LB306 of an article's or a tree's text, as (line, code, message).

    `declared` gives the line of each rule of local-rule, counted as the tokens' lines are.
    """
    yield from _marks(tokens)
    used: dict[str, int] = {}
    for line, token in walk(tokens):
        if is_conditional(token) and rule_of(token):
            used.setdefault(rule_of(token), line)
    known = list(rules.questions)
    for rule, line in {**declared, **used}.items():
        if known and rule not in known:
            yield line, "LB303", f"the rule {unknown(rule, known)}"
    for rule in used.keys() - declared.keys():
        yield used[rule], "LB304", f"add '{rule}' to local-rule"
    for rule in declared.keys() - used.keys():
        message = f"no text holds under '{rule}'; take it from local-rule"
        yield declared[rule], "LB305", message


def _marks(tokens: Sequence[Token]) -> Iterator[Finding]:
    for line, token in walk(tokens):
        if not is_conditional(token):
            if "rule" in token.attrs:
                yield line, "LB306", "write {.if rule=…}: without .if the text always shows"
        elif token.type == "heading_open":
            yield line, "LB306", "mark the text under the heading, not the heading"
        elif not rule_of(token):
            yield line, "LB306", "name the rule, as in {.if rule=second-box}: this never shows"


def declared_at(
    rules: Sequence[str], lines: Mapping[str, int], before_body: int = 0
) -> dict[str, int]:
    """Return the line of each rule that front matter declares, less the lines before the body."""
    first = lines.get("local-rule", 1)
    at = (lines.get(f"local-rule.{index}", first) for index in range(len(rules)))
    return {rule: line - before_body for rule, line in zip(rules, at, strict=True)}
