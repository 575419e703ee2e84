"""The linter of trees: what shows only when all trees and articles are seen together.

Faults of one file alone come from `parse_tree`. `check_all` runs everything on a library.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date

from kb.base.errors import Problem
from kb.library import check as library_check
from kb.library.article import Article, Library
from kb.library.check_body import links
from kb.library.check_rules import declared_at, local_rules
from kb.library.fields import problem, unknown
from kb.library.markdown import parse
from kb.library.rules import Rules
from kb.library.text import split
from kb.triage.codes import RULES, WARNINGS
from kb.triage.graph import Graph, circles, graph_of, landing, longest, reachable
from kb.triage.parse import read_trees
from kb.triage.parse_step import divide
from kb.triage.tree import LONGEST_WALK, Step, Tree

__all__ = ["RULES", "WARNINGS", "check_all", "check_trees"]

Finding = tuple[int, str, str]
_AND = re.compile(r"\band\b", re.IGNORECASE)


def check_all(library: Library, today: date) -> list[Problem]:
    """Check articles and trees of a library; what loading it told of is not repeated."""
    trees, problems = read_trees(library)
    problems += library_check.check(library, today)
    problems += check_trees(trees, library.articles)
    problems += library_check.codes([*library.articles.values(), *trees.values()])
    known = [one.id for one in library.words.equipment]
    for tree in trees.values():
        problems += [*_front(tree, known, today), *_rules(tree, library.rules)]
    return sorted(problems)


def check_trees(trees: Mapping[str, Tree], articles: Mapping[str, Article]) -> list[Problem]:
    """Check trees against each other and the articles that lead to them and are linked."""
    graph = graph_of(trees)
    starts = [(tree.slug, tree.first) for tree in trees.values()]
    reached = reachable(graph, starts)
    named = {article.tree for article in articles.values()}
    files = {slug: article.where for slug, article in articles.items()}
    files |= {slug: tree.where for slug, tree in trees.items()}
    problems = list(_endless(trees, graph))
    if not problems:
        problems += _too_long(trees, graph)
    for tree in trees.values():
        faults = [
            *_branches(tree, trees),
            *(
                (s.line, "LB408", f"nothing leads to '{s.id}'")
                for s in tree.steps.values()
                if (tree.slug, s.id) not in reached
            ),
            *_ends(tree),
            *_questions(tree),
            *_caution(tree),
            *_links(tree, files),
        ]
        if tree.slug not in named:
            faults.append((1, "LB418", "no article names this tree; add 'tree:' to one"))
        problems += [_problem(tree, *fault) for fault in faults]
    return sorted(problems)


def _problem(tree: Tree, line: int, code: str, message: str) -> Problem:
    return Problem(tree.where, line, code, message, "body", code in WARNINGS)


def _front(tree: Tree, equipment: list[str], today: date) -> Iterator[Problem]:
    where, lines = tree.where, tree.lines
    if equipment and tree.equipment and tree.equipment not in equipment:
        yield problem(where, lines, "equipment", "LB108", unknown(tree.equipment, equipment))
    yield from library_check.phrases_twice(tree.phrases, where, lines)
    yield from library_check.stop_lines(tree, where, lines)
    yield from library_check.review_date(tree.reviewed, today, where, lines)
    yield from library_check.wrong_slug(tree.slug, where)


def _branches(tree: Tree, trees: Mapping[str, Tree]) -> Iterator[Finding]:
    for step in tree.steps.values():
        for branch in step.branches:
            if not branch.target_tree or landing(trees, branch) is not None:
                continue  # told where it was read, or fine
            other = trees.get(branch.target_tree)
            if other is None:
                message = f"the tree {unknown(branch.target_tree, list(trees))}"
            else:
                message = f"the step {unknown(branch.target_step, list(other.steps))}"
            yield branch.line, "LB407", message


def _endless(trees: Mapping[str, Tree], graph: Graph) -> Iterator[Problem]:
    for circle in circles(graph):
        edges = list(zip(circle, [*circle[1:], circle[0]], strict=True))
        lines = {place: trees[place[0]].steps[place[1]].line for place in circle}
        back = [(a, b) for a, b in edges if a[0] == b[0] and lines[b] <= lines[a]]
        start, end = (back or edges)[-1]
        round_trip = " > ".join(step for _, step in [*circle, circle[0]])
        message = f"this walk never ends ({round_trip}); lead '{end[1]}' on to an end instead"
        tree = trees[start[0]]
        step = tree.steps[start[1]]
        line = next((b.line for b in step.branches if landing(trees, b) == end), step.line)
        yield _problem(tree, line, "LB409", message)


def _too_long(trees: Mapping[str, Tree], graph: Graph) -> Iterator[Problem]:
    walks = longest(graph)
    for tree in trees.values():
        walk = walks[tree.slug, tree.first]
        if len(walk) > LONGEST_WALK:
            steps = " > ".join(step for _, step in walk)
            message = f"the longest walk has {len(walk)} steps ({steps}); make it 12 or fewer"
            yield _problem(tree, tree.steps[tree.first].line, "LB410", message)


def _ends(tree: Tree) -> Iterator[Finding]:
    ends = [step for step in tree.steps.values() if step.kind == "end"]
    if all(step.outcome == "fixed" for step in ends):
        message = "add an end for what cannot be fixed here, such as outcome=rover"
        yield tree.steps[tree.first].line, "LB413", message


def _questions(tree: Tree) -> Iterator[Finding]:
    for step in tree.steps.values():
        if step.kind == "question" and _AND.search(step.heading):
            yield step.line, "LB414", "this asks two facts, joined by 'and'; make two questions"


def _caution(tree: Tree) -> Iterator[Finding]:
    """Find a first fix without a word before it, and cautions that come too late."""
    said = bool(tree.intro_text)
    fixed = False
    for step in tree.steps.values():
        fixed = fixed or step.kind == "fix"
        if step.kind == "fix" and not said:
            message = "say before this first fix what one must be careful of"
            yield step.line, "LB417", message
        if fixed and _is_caution(step):
            yield step.line, "LB417", "this caution comes after the first fix; move it before"
        said = said or bool(step.help_text) or fixed


def _is_caution(step: Step) -> bool:
    lines = step.help_text.casefold().splitlines()
    return any(line.startswith("caution") for line in lines)


def _rules(tree: Tree, rules: Rules) -> Iterator[Problem]:
    declared = declared_at(tree.local_rule, tree.lines)
    for finding in local_rules(declared, parse(tree.text), rules):
        yield _problem(tree, *finding)


def _links(tree: Tree, files: Mapping[str, str]) -> Iterator[Finding]:
    """LB206 of intro and help texts; branches are looked at by themselves."""
    for part in split(parse(tree.text)):
        before, _, after = divide(part)
        yield from links([*before, *after], tree.where, files)
