"""What the linter holds trees to, beside the rules on front matter and links of articles.

LB421 is of the whole library: only here are articles, trees and search all in reach.
"""

from __future__ import annotations

RULES: dict[str, str] = {
    "LB401": "The attributes above a step can be read; a decimal is quoted.",
    "LB402": "Every step has an id of its own, in small letters joined by hyphens.",
    "LB403": "A step has only the class and attributes of its kind: question, fix or end.",
    "LB404": "A fix has minutes above 0; its chance, if any, is between 0 and 1.",
    "LB405": "Outcome and effect of an end are ids of their lists.",
    "LB406": "Every end says how voting goes on.",
    "LB407": "Every branch lands on a step.",
    "LB408": "Every step can be reached from the first step of a tree.",
    "LB409": "Every walk ends: no branch leads round in a circle, also across trees.",
    "LB410": "No walk is longer than 12 steps.",
    "LB411": "An end has no branches.",
    "LB412": "A question or a fix has at least two branches.",
    "LB413": "A tree has at least one end that is not 'fixed'.",
    "LB414": "A question asks one fact.",
    "LB415": "The answers of a step differ.",
    "LB416": "Branches are one list of links, the last thing in a step.",
    "LB417": "A caution stands in the text before the first fix, not after it.",
    "LB418": "Some article names the tree.",
    "LB419": "No answer of a step stands under a local rule.",
    "LB420": "A tree has at least one step.",
    "LB421": "A tree leads to an article, or search finds it by its own title.",
}
# Told, but not a reason to keep a tree from being walked.
WARNINGS = frozenset({"LB414", "LB418", "LB421"})
