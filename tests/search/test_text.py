import gzip
from pathlib import Path

import pytest

from kb.search.text import fold, stem, stems, words

FIXTURES = Path(__file__).parent.parent / "fixtures"


def test_stems_are_those_of_the_published_snowball_vocabulary():
    # Source: snowballstem/snowball-data, english/voc.txt and output.txt (fixtures/stem/SOURCE.md).
    with gzip.open(FIXTURES / "stem" / "english.voc_output.tsv.gz", "rt", encoding="utf-8") as file:
        pairs = [line.rstrip("\n").split("\t") for line in file]
    assert len(pairs) == 42_649
    assert [pair for pair in pairs if stem.__wrapped__(pair[0]) != pair[1]] == []


@pytest.mark.parametrize(
    ("form", "other"), [("jammed", "jam"), ("unplugged", "unplug"), ("stopped", "stop")]
)
def test_the_trade_s_words_meet(form, other):
    assert stem(form) == stem(other)


def test_codes_and_lanes_survive_however_they_are_written():
    assert words("Lane A, box 2") == ["lane", "a", "box", "2"]
    assert words("E-104") == ["e", "104", "e104"]
    assert "e104" in words("E104")
    assert words("E-104", wholes=False) == ["e", "104"]


def test_small_words_that_turn_a_fault_around_survive():
    assert stems("no not on off out up") == ["no", "not", "on", "off", "out", "up"]


@pytest.mark.parametrize(
    "said", ["won't", "wont", "won’t", "Won't", "cannot", "can't", "isn't", "aint"]
)
def test_every_negation_says_not(said):
    assert words(said) == ["not"]


def test_endings_after_an_apostrophe_are_dropped():
    assert words("it's the voter's, they're o'clock") == ["it", "the", "voter", "they", "oclock"]


def test_accents_are_kept_inside_a_word_and_folded():
    assert words("La máquina rechazó la señal") == ["la", "maquina", "rechazo", "la", "senal"]
    assert fold("Ñandú ÉXITO") == "nandu exito"


@pytest.mark.parametrize("text", ["", "   ", "😀 🗳️", "?!…", "_"])
def test_a_text_without_words_gives_none(text):
    assert words(text) == []


def test_other_scripts_are_words_too():
    assert words("الورق عالق") == ["الورق", "عالق"]
