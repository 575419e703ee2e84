from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from kb.library.words import Words
from kb.search.documents import Document
from kb.search.grams import GramTable, grams
from kb.search.phrases import PhraseTable
from kb.search.prepared import Preparer

NO_WORDS = Words((), (), {}, frozenset())


def gram_table(*texts):
    preparer = Preparer(NO_WORDS)
    documents = [Document(text, text, "", "", rest=text) for text in texts]
    return GramTable([preparer.prepare(one) for one in documents], preparer.gram_ids)


def phrase_table(*groups):
    preparer = Preparer(NO_WORDS)
    documents = [Document(group[0], "", group[0], "", phrases=group[1:]) for group in groups]
    return PhraseTable([preparer.prepare(one) for one in documents], preparer.stem_ids)


def test_grams_mark_the_edges_of_a_word():
    assert grams("jam") == [" ja", "jam", "am ", " jam", "jam "]


def test_the_same_words_have_cosine_one_and_others_zero():
    table = gram_table("jam", "seal")
    shares, squared = table.score("jam")
    assert shares / np.sqrt(squared) == pytest.approx([1.0, 0.0])


def test_a_misspelled_word_is_nearer_to_itself_than_to_another():
    shares, _ = gram_table("compartment", "department").score("compartmant")
    assert shares[0] > shares[1] > 0


def test_gram_cosines_are_those_of_the_definition():
    texts = ["jam jam slot", "slot", "jamming"]
    counts = [Counter(gram for word in text.split() for gram in grams(word)) for text in texts]
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
    shares, squared = gram_table(*texts).score("jam")
    assert shares / np.sqrt(squared) == pytest.approx(expected)


def test_the_best_phrase_counts_not_their_sum():
    table = phrase_table(["red light", "light on"], ["red light on"])
    total = np.zeros(table.size)
    for stem in ("red", "light", "on"):
        places, shares = table.postings(stem)
        total[places] += shares
    length = np.sqrt(sum(table.rarity(stem) ** 2 for stem in ("red", "light", "on")))
    best = table.best(total) / length
    assert best[1] == pytest.approx(1.0)
    assert best[0] < 1


def test_a_change_costs_the_changed_document_only():
    preparer = Preparer(NO_WORDS)
    first, second = Document("a", "a", "one", ""), Document("b", "b", "two", "")
    kept = [preparer.prepare(first), preparer.prepare(second)]
    changed = preparer.prepare(replace(first, title="uno"))
    assert preparer.prepare(second) is kept[1]
    assert changed is not kept[0]
    assert changed.words.tolist() == [preparer.word_ids["uno"]]
    assert changed.counts.tolist() == [3]


def test_runs_and_stems_of_later_documents_are_unknown_to_an_earlier_table():
    preparer = Preparer(NO_WORDS)
    early = [preparer.prepare(Document("a", "a", "jam", ""))]
    grams_then = GramTable(early, preparer.gram_ids)
    phrases_then = PhraseTable(early, preparer.stem_ids)
    before = grams_then.score("seal"), phrases_then.rarity("seal")
    preparer.prepare(Document("b", "b", "seal", ""))
    shares, squared = grams_then.score("seal")
    assert (shares.tolist(), squared) == (before[0][0].tolist(), before[0][1])
    assert phrases_then.rarity("seal") == before[1]
    assert phrases_then.postings("seal")[0].size == 0
