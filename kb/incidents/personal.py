"""Texts that look as if they name a person: a warning before they are stored.

A warning, never a refusal: an asset number can look like a telephone number, and the person
who types knows better. Patterns err on the side of asking.
"""

from __future__ import annotations

import re

# What it looks like, and the pattern. Numbers of seals and assets alone do not match.
_LOOKS: tuple[tuple[str, re.Pattern[str]], ...] = (
    (
        "a social security number",
        re.compile(
            r"(?<![\d-])(?!000|666|9\d\d)\d{3}[- ](?!00)\d{2}[- ](?!0000)\d{4}(?![\d-])"
            r"|\b(?:ssn|social security)\b\D{0,20}\d{4,9}\b"
        ),
    ),
    (
        "a telephone number",
        re.compile(
            r"(?<![\d-])(?:\+?1[-. ]?)?(?:\([2-9]\d{2}\) ?|[2-9]\d{2}[-. ])?"
            r"[2-9]\d{2}[-. ]\d{4}(?![\d-])"
            r"|\+\d{1,3}[ -]?\d[\d -]{6,14}\d"
            r"|\b(?:phone|cell|call back|mobile)\b\D{0,15}\d{7,11}\b"
        ),
    ),
    ("an e-mail address", re.compile(r"[\w.+%-]+@[\w-]+(?:\.[\w-]+)+")),
    (
        "a birth date",
        re.compile(
            r"\b(?:born|birth\w*|dob|d\.o\.b\.?)\b.{0,20}?\d{1,4}"
            r"|\b(?:0?[1-9]|1[0-2])[/.-](?:0?[1-9]|[12]\d|3[01])[/.-](?:19\d\d|200\d)\b"
            r"|\b(?:19\d\d|200\d)-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12]\d|3[01])\b"
        ),
    ),
    (
        "a driver's license number",
        re.compile(r"\b(?:licen[cs]e|driver'?s id|dl)\b.{0,20}?\b[a-z]{0,2}-?\d[\d-]{4,}"),
    ),
    (
        "a voter's number",
        re.compile(r"\bvoters?'?\s*(?:id|no|number|num|registration|reg|record|#)\W.{0,20}?\d{4,}"),
    ),
)


def looks_personal(text: str) -> list[str]:
    """What the text looks like it holds, in words for a warning; empty where it looks plain."""
    lowered = text.lower()
    return [what for what, pattern in _LOOKS if pattern.search(lowered)]
