"""What callers' words must not hold when they are kept. All words are invented."""

from __future__ import annotations

import pytest

from kb.authoring.fitness import is_rude, unfit
from kb.incidents.personal import looks_personal


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("call me back at 555-0134, the scanner is stuck", "a telephone number"),
        ("my cell is 5 5 5 0 1 3 4", "a long number"),
        ("voter 078-05-1120 cannot be found", "a social security number"),
        ("write to nora@example.org", "an e-mail address"),
        ("hi my name is Nora and the tape ran out", "a name"),
        ("hola me llamo Nora y no prende", "a name"),
        ("Mrs. Ombry says it will not scan", "a name"),
        ("this is Nora Ombry at the school, it beeps", "a name"),
        ("a voter named Ombry is shouting", "a name"),
        ("she lives at 12 Yarrow Lane and is not on the list", "an address"),
        ("[redacted]", "a redacted text"),
    ],
)
def test_personal_words_are_told_apart(words: str, what: str) -> None:
    assert what in unfit(words, looks_personal)


@pytest.mark.parametrize(
    "words",
    [
        "error E-104 on scanner SC001, counter says 1204",
        "this is not working at the gym",
        "the name is not on the poll book",
        "this is the third jam with the same ballot",
        "no prende la máquina",
    ],
)
def test_plain_words_may_be_kept(words: str) -> None:
    assert unfit(words, looks_personal) == []


@pytest.mark.parametrize(
    ("words", "rude"),
    [
        ("this damn thing is rigged", True),
        ("it flipped my vote", True),
        ("the handicap machine is dead", True),
        ("the lid flipped open", False),
        ("hello, it will not vote my ballot", False),
        ("a guard passed by", False),
    ],
)
def test_accusing_and_offending_words_are_told_apart(words: str, rude: bool) -> None:
    assert is_rude(words) is rude
