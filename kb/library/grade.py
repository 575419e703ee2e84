"""How hard a text is to read: the US school grade by Flesch and Kincaid, computed by textstat.

Kincaid, Fishburne, Rogers and Chissom (1975), "Derivation of new readability formulas": 0.39
words a sentence + 11.8 syllables a word - 15.59. Made for English; other languages have none here.
"""

from __future__ import annotations

import textstat

from kb.library.article import Article
from kb.library.text import sections

HIGHEST_GRADE = 9


def grade(article: Article) -> float:
    """Return the grade of all text that is shown while no local rule is answered.

    Each line, such as a step or an item of a list, ends as a sentence.
    """
    return grade_of("\n".join([article.stop, *sections(article).values()]))


def grade_of(text: str) -> float:
    """Return the grade of plain text, a paragraph a line; 0 for none."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    ended = [line if line.endswith((".", "!", "?")) else f"{line}." for line in lines]
    return float(textstat.flesch_kincaid_grade(" ".join(ended))) if ended else 0.0
