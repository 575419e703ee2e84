"""The linter of local rules in an article: what is used, declared and known must agree."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from markdown_it.token import Token

from kb.library.article import Article
from kb.library.fields import unknown
from kb.library.markdown import walk
from kb.library.rules import Rules, is_conditional, rule_of

Finding = tuple[int, str, str]


def local_rules(article: Article, tokens: Sequence[Token], rules: Rules) -> Iterator[Finding]:
    """LB303 to LB306, as (line in the body, code, message)."""
    yield from _marks(tokens)
    used: dict[str, int] = {}
    for line, token in walk(tokens):
        if is_conditional(token) and rule_of(token):
            used.setdefault(rule_of(token), line)
    declared = {rule: _line(article, index) for index, rule in enumerate(article.local_rule)}
    known = list(rules.questions)
    for rule, line in (declared | used).items():
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


def _line(article: Article, index: int) -> int:
    """Line of a declared rule, counted as the body's lines are (so it is 0 or less)."""
    named = article.lines.get(f"local-rule.{index}", article.line("local-rule"))
    return named - article.line("body") + 1
