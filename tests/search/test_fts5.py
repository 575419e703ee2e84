from kb.search.fts5 import Fts5

from .conftest import DOCUMENTS, document


def test_the_peer_finds_any_word_by_its_stem():
    assert Fts5(DOCUMENTS).search("jammed lights")[:2] in (
        ["jam-at-entry", "no-power"],
        ["no-power", "jam-at-entry"],
    )


def test_the_peer_reports_each_article_once():
    double = document("jam-es", "Ballot stuck, in Spanish", reports_as="jam-at-entry")
    assert Fts5([*DOCUMENTS, double]).search("stuck") == ["jam-at-entry"]


def test_signs_of_the_query_language_do_no_harm():
    assert Fts5(DOCUMENTS).search('"AND ( NEAR* -') == []
    assert Fts5(DOCUMENTS).search("") == []
