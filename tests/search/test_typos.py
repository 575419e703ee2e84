import random
from functools import cache

import pytest

from kb.search.typos import Vocabulary, _letters, allowed, distances


def recursive_distance(one, other):
    """Optimal string alignment by its recursive definition (Boytsov 2011, from memory)."""

    @cache
    def upto(i, j):
        if not i or not j:
            return i + j
        best = min(
            upto(i - 1, j) + 1,
            upto(i, j - 1) + 1,
            upto(i - 1, j - 1) + (one[i - 1] != other[j - 1]),
        )
        if i > 1 and j > 1 and one[i - 1] == other[j - 2] and one[i - 2] == other[j - 1]:
            best = min(best, upto(i - 2, j - 2) + 1)
        return best

    return upto(len(one), len(other))


def test_distances_of_a_whole_vocabulary_are_those_of_the_definition():
    chance = random.Random(3)
    vocabulary = ["".join(chance.choices("abcd", k=chance.randint(4, 9))) for _ in range(80)]
    letters, lengths = _letters(vocabulary), [len(word) for word in vocabulary]
    for word in ("abcd", "ddabca", "bacdbacd"):
        found = distances(word, letters, lengths)
        assert list(found) == [recursive_distance(word, other) for other in vocabulary]


@pytest.mark.parametrize(
    ("wrong", "meant"),
    [
        ("jamed", "jammed"),
        ("scannre", "scanner"),
        ("balot", "ballot"),
        ("compertmant", "compartment"),
    ],
)
def test_a_mistyped_word_is_found(wrong, meant):
    known = Vocabulary({"jammed": 2, "scanner": 9, "ballot": 9, "compartment": 3, "slot": 1})
    assert [word for word, _ in known.nearest(wrong)] == [meant]


def test_the_same_first_letter_comes_before_the_more_frequent_word():
    known = Vocabulary({"cover": 9, "hover": 1, "lover": 1})
    assert [word for word, _ in known.nearest("hovel")] == ["hover"]
    assert known.nearest("xover")[0] == ("cover", 1)
    assert known.nearest("hoverr") == [("hover", 1)]


@pytest.mark.parametrize(
    ("word", "letters"), [("box", 0), ("e104", 0), ("slot", 1), ("compartment", 2)]
)
def test_short_words_and_codes_are_never_corrected(word, letters):
    assert allowed(word) == letters


def test_what_is_too_far_is_not_found():
    assert Vocabulary({"ballot": 1}).nearest("pizza") == []
    assert Vocabulary({}).nearest("pizza") == []


def test_a_word_run_together_is_taken_apart():
    known = Vocabulary({"poll": 3, "book": 2, "pol": 1, "lbook": 1})
    assert known.halves("pollbook") == ("poll", "book")
    assert known.halves("pollcar") is None
