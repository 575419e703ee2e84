from collections import Counter

import numpy as np
import pytest

from kb.search.grams import GramTable, grams
from kb.search.phrases import PhraseTable


def test_grams_mark_the_edges_of_a_word():
    assert grams("jam") == [" ja", "jam", "am ", " jam", "jam "]


def test_the_same_words_have_cosine_one_and_others_zero():
    table = GramTable([Counter(["jam"]), Counter(["seal"])])
    shares, squared = table.score("jam")
    assert shares / np.sqrt(squared) == pytest.approx([1.0, 0.0])


def test_a_misspelled_word_is_nearer_to_itself_than_to_another():
    shares, _ = GramTable([Counter(["compartment"]), Counter(["department"])]).score("compartmant")
    assert shares[0] > shares[1] > 0


def test_gram_cosines_are_those_of_the_definition():
    texts = [Counter(["jam", "jam", "slot"]), Counter(["slot"]), Counter(["jamming"])]
    counts = [Counter(gram for word in text.elements() for gram in grams(word)) for text in texts]
    rarity = {
        gram: np.log1p(3 / sum(gram in one for one in counts)) for one in counts for gram in one
    }

    def vector(count):
        weights = {gram: (1 + np.log(n)) * rarity[gram] for gram, n in count.items()}
        length = np.sqrt(sum(weight**2 for weight in weights.values()))
        return {gram: weight / length for gram, weight in weights.items()}

    asked = vector(Counter(grams("jam")))
    expected = [
        sum(asked.get(gram, 0) * weight for gram, weight in vector(one).items()) for one in counts
    ]
    shares, squared = GramTable(texts).score("jam")
    assert shares / np.sqrt(squared) == pytest.approx(expected)


def test_the_best_phrase_counts_not_their_sum():
    table = PhraseTable([["red light", "light on"], ["red light on"]])
    total = np.zeros(table.size)
    for stem in ("red", "light", "on"):
        places, shares = table.postings(stem)
        total[places] += shares
    length = np.sqrt(sum(table.rarity(stem) ** 2 for stem in ("red", "light", "on")))
    best = table.best(total) / length
    assert best[1] == pytest.approx(1.0)
    assert best[0] < 1
