import threading
from dataclasses import replace

import pytest

from kb.library.words import Words
from kb.search.encoder import encoder
from kb.search.index import Index
from kb.search.store import KeptVectors

from .conftest import DOCUMENTS, WORDS, document


def slugs(answer):
    return [hit.slug for hit in answer.hits]


@pytest.mark.parametrize(
    ("query", "slug"),
    [
        ("its jammed", "jam-at-entry"),
        ("it is stuck in front", "jam-at-entry"),
        ("the balot is jamed", "jam-at-entry"),
        ("papel atascado", "jam-at-entry"),
        ("won't go in", "jam-at-entry"),
        ("nothing lites up", "no-power"),
        ("E104", "code"),
        ("error e 104", "code"),
        ("lane A", "code"),
        ("pollbook frozen", "book-frozen"),
        ("frozzen tablet", "book-frozen"),
    ],
)
def test_a_call_finds_its_article_first(index, query, slug):
    assert slugs(index.search(query))[0] == slug


def test_a_hit_carries_what_is_read_out(index):
    hit = index.search("its jammed").hits[0]
    assert (hit.title, hit.equipment, hit.kind) == (DOCUMENTS[0].title, "scanner", "fault")
    assert (hit.stop, hit.first_step) == (DOCUMENTS[0].stop, "Note the counter.")
    assert hit.score > 0


def test_the_snippet_is_the_best_sentence(index):
    assert index.search("ballot hangs red").hits[0].snippet == "The ballot hangs half out."
    assert (
        index.search("stuck, can the voter pull").hits[0].snippet
        == "Ask the voter to pull it back."
    )


def test_why_gives_back_only_words_that_were_said(index):
    assert (
        index.search("its jammed at the front").hits[0].why.startswith("like a caller's phrase: ")
    )
    assert index.search("jammed umbrella").hits[0].why == "words: jammed"


def test_scores_fall_and_nothing_stands_twice(index):
    answer = index.search("ballot scanner stuck no power code seal")
    scores = [hit.score for hit in answer.hits]
    assert scores == sorted(scores, reverse=True)
    assert len(set(slugs(answer))) == len(answer.hits)
    assert slugs(index.search("scanner", limit=2)) == slugs(index.search("scanner"))[:2]


@pytest.mark.parametrize("query", ["", "  ", "😀", "?!", "الورق عالق", "zzzzqqqq"])
def test_what_shares_nothing_finds_nothing_and_is_no_error(index, query):
    answer = index.search(query)
    assert (answer.query, answer.fits, answer.hits) == (query, False, ())


def test_a_pasted_page_is_read_to_its_400th_sign(index):
    assert slugs(index.search("jammed " * 57 + "power " * 500))[0] == "jam-at-entry"


def test_a_call_that_fits_says_so_and_another_does_not(index):
    assert index.search("the paper is stuck, wont go in").fits
    other = index.search("what time does the cafeteria open for the people on sunday")
    assert other.hits
    assert not other.fits


def test_circumstances_weigh_and_exclude_nothing(index):
    plain = index.search("scanner no power frozen")
    at = {hit.slug: hit.score for hit in plain.hits}
    for told in (
        {"equipment": "epollbook"},
        {"phase": "opening"},
        {"place_equipment": frozenset({"epollbook"})},
    ):
        answer = index.search("scanner no power frozen", **told)
        assert set(slugs(answer)) == set(slugs(plain))
        raised = {hit.slug for hit in answer.hits if hit.score > at[hit.slug]}
        assert raised == ({"no-power"} if "phase" in told else {"book-frozen"})


def test_a_translation_and_a_tree_report_under_their_article():
    spanish = document(
        "jam-es", "Boleta atorada en la entrada", "se trabó", reports_as="jam-at-entry"
    )
    index = Index([*DOCUMENTS, spanish], WORDS)
    answer = index.search("boleta atorada")
    assert slugs(answer).count("jam-at-entry") == 1
    assert answer.hits[0].title == "Ballot stuck at the entry slot"


def test_an_empty_library_finds_nothing():
    assert Index([], Words()).search("jammed").hits == ()


def test_an_index_works_without_words():
    assert slugs(Index(DOCUMENTS, Words()).search("its jammed"))[0] == "jam-at-entry"


def test_changes_are_seen_at_once_and_what_is_gone_stays_gone():
    index = Index(DOCUMENTS, WORDS)
    assert "line" not in slugs(index.search("hinge"))
    index.update([replace(DOCUMENTS[5], phrases=("the hinge squeaks",))])
    assert slugs(index.search("hinge"))[0] == "line"
    assert "line" not in slugs(index.search("people door"))[:1]
    for number in range(9):
        index.update([document(f"new-{number}", f"Gasket {number}", "rubber ring")], gone=["line"])
        assert "line" not in slugs(index.search("hinge"))
    assert set(slugs(index.search("rubber ring", limit=9))) == {f"new-{n}" for n in range(9)}
    assert slugs(index.search("its jammed"))[0] == "jam-at-entry"


def test_an_update_with_nothing_new_opens_no_new_searcher():
    index = Index(DOCUMENTS, WORDS)
    before = index.scorer()
    index.update(DOCUMENTS)
    assert index.scorer() is before


def test_threads_search_while_another_writes():
    index = Index(DOCUMENTS, WORDS)
    found, stop = [], threading.Event()

    def ask():
        # A breath between calls: threads that spin starve the writer of the interpreter.
        while not stop.wait(0.001):
            found.append(slugs(index.search("its jammed at the front"))[0])

    threads = [threading.Thread(target=ask) for _ in range(3)]
    for thread in threads:
        thread.start()
    for number in range(8):
        index.update([document("changing", f"Gasket version {number}", "rubber ring")])
    stop.set()
    for thread in threads:
        thread.join()
    assert set(found) == {"jam-at-entry"}
    assert index.search("gasket").hits[0].title == "Gasket version 7"


@pytest.mark.parametrize("said", ["214", " 214 ", "card 214", "Card #214", "código 214", "no. 214"])
def test_a_short_code_alone_finds_its_article(said):
    index = Index([*DOCUMENTS, document("box", "Box is full", "no more room", code="214")], WORDS)
    answer = index.search(said)
    assert slugs(answer)[0] == "box"
    assert answer.fits
    assert answer.hits[0].why == "short code 214"


@pytest.mark.parametrize("said", ["the box at 214 main is full", "precinct 214 is dead", "2140"])
def test_a_number_among_other_words_is_no_short_code(said):
    index = Index([*DOCUMENTS, document("box", "Box", code="214")], WORDS)
    assert all(hit.why != "short code 214" for hit in index.search(said).hits)


def test_meaning_finds_what_shares_no_word_with_the_call():
    found = encoder()
    assert found is not None
    with_meaning = Index(DOCUMENTS, WORDS, KeptVectors(found))
    said = "la fila es larguísima"
    assert slugs(with_meaning.search(said))[0] == "line"
    assert slugs(Index(DOCUMENTS, WORDS).search(said))[:1] != ["line"]
