"""What the linter holds the library to: each code with the rule it stands for.

Every code has a fixture that breaks it (a test fails for one without), so this table is the
whole of what an author may be told. Trees have theirs in `kb.triage.codes`.
"""

from __future__ import annotations

RULES: dict[str, str] = {
    "LB100": "A file of the library is UTF-8 text.",
    "LB101": "A file begins with front matter between two lines of three hyphens.",
    "LB102": "Front matter is a plain YAML mapping, without anchors or tags.",
    "LB103": "A field stands once.",
    "LB104": "Only the fields of the format are used.",
    "LB105": "A field that the kind needs is there and not empty.",
    "LB106": "A field has its shape: a line of text, a list, a number above 0, a date.",
    "LB107": "Kind, phase, symptom, record and effect are ids of their lists.",
    "LB108": "Equipment is an id of words.yaml.",
    "LB109": "A fault or procedure has 15 to 30 phrases.",
    "LB110": "A phrase stands once in a file.",
    "LB111": "A phrase stands in one article only.",
    "LB112": "The stop line is one sentence.",
    "LB113": "The date of the last review is not in the future.",
    "LB114": "A slug is small letters and digits, joined by single hyphens.",
    "LB115": "A slug is the name of one file only.",
    "LB116": "See-also names other articles or trees of the library.",
    "LB117": "The tree that an article names exists.",
    "LB118": "Redirect and translates lead to another article that is not itself retired.",
    "LB119": "A language is a well-formed tag; a translation has not that of its original.",
    "LB120": "A retired article has only a title and a redirect.",
    "LB121": "An article stands in the folder of its equipment.",
    "LB122": "A short code belongs to one article or tree; a translation has its original's.",
    "LB123": "A text is reviewed again within 18 months.",
    "LB124": "A text is reviewed again within two years.",
    "LB201": "Only the sections of the kind are used, each once.",
    "LB202": "No section that the kind needs is missing.",
    "LB203": "Sections stand in their order.",
    "LB204": "The steps are one numbered list that begins at 1.",
    "LB205": "Each step says, in italics, what should be seen.",
    "LB206": "A link to a file leads to an article or tree of the library.",
    "LB207": "Headings of the text begin at level 2.",
    "LB208": "There is no raw HTML.",
    "LB209": "Braces are attributes that can be read; only id, class and rule are used.",
    "LB210": "Every section says something also while no local rule is answered.",
    "LB211": "No text names a step by its number where a local rule may take a step away.",
    "LB212": "A checklist's last section links to the articles for what may go wrong.",
    "LB213": "A translation has as many sections as its original.",
    "LB214": "A text in English reads at school grade 9 or below (Flesch-Kincaid).",
    "LB215": "A link to a part of an article or tree names a part that is there.",
    "LB301": "words.yaml has its shape, and an equipment id stands once.",
    "LB302": "local-rules.yaml has its shape: ids that stand once, each with a question.",
    "LB303": "A local rule that an article uses or declares stands in local-rules.yaml.",
    "LB304": "A local rule used in the text is declared in local-rule.",
    "LB305": "A local rule declared in local-rule is used in the text.",
    "LB306": "Text under a local rule names the rule, and is never a heading.",
}
# Told, but not a reason to keep an article from being published.
WARNINGS = frozenset({"LB123", "LB124", "LB205", "LB211", "LB214"})
# Warnings that do not fail a strict check either: they come of themselves, by the calendar.
NOTICES = frozenset({"LB123"})
