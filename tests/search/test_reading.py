from collections import Counter

import pytest

from kb.library.words import Same, Words
from kb.search.reading import CORRECTED, HALVED, Reader
from kb.search.typos import Vocabulary
from kb.search.wording import SAME, Wording

KNOWN = Counter(["scanner", "jam", "jammed", "poll", "book", "check", "checkin", "seal"])
WORDING = Wording(
    Words(same=(Same(("tabulator",), ("scanner",)), Same(("way in there",), ("jam",))))
)
READER = Reader(Vocabulary(KNOWN), WORDING)


def terms(query):
    return {concept.word: dict(concept.terms) for concept in READER.read(query)}


def test_a_known_word_stands_for_itself():
    assert terms("Jammed") == {"jammed": {"jam": 1.0}}


def test_a_word_of_the_lists_is_not_corrected():
    assert terms("tabulator") == {"tabulator": {"tabul": 1.0, "scanner": SAME}}


def test_an_unknown_word_is_corrected_at_a_lower_weight():
    assert terms("jamed") == {"jamed": {"jame": 1.0, "jam": CORRECTED[1]}}


def test_a_correction_may_lead_into_the_lists():
    reader = Reader(Vocabulary(KNOWN + Counter(["tabulator"])), WORDING)
    (concept,) = reader.read("tabulatr")
    assert dict(concept.terms)["scanner"] == pytest.approx(CORRECTED[1] * SAME)


def test_words_written_together_or_apart_meet():
    assert terms("pollbook")["pollbook"] == {"pollbook": 1.0, "poll": HALVED, "book": HALVED}
    assert terms("check in")["checkin"] == {"checkin": 1.0}


def test_a_listed_run_of_words_stands_beside_its_words():
    found = READER.read("way in there")
    assert [(one.word, one.said) for one in found] == [
        ("way", True),
        ("in", True),
        ("there", True),
        ("way in there", False),
    ]


def test_a_word_said_twice_is_one_concept():
    assert len(READER.read("seal seal SEAL")) == 1
