"""What search is given: callers' accepted words stand among an article's phrases."""

from __future__ import annotations

from pathlib import Path

from kb.library import store
from kb.search.index import Index
from kb.triage.documents import documents
from kb.triage.trees import load_trees

GOOD = store.load(Path(__file__).parent.parent / "fixtures" / "library_good")[0]
ODD = "zorple wibbles quonk"


def phrases(accepted: dict[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    return {one.slug: one.phrases for one in documents(GOOD, {}, {}, accepted)}


def test_accepted_words_come_after_the_author_s_own() -> None:
    before, after = phrases({}), phrases({"paper-stuck": (ODD,)})
    assert after["paper-stuck"] == (*before["paper-stuck"], ODD)
    assert after | {"paper-stuck": before["paper-stuck"]} == before


def test_a_retired_article_hands_on_what_it_had_and_one_that_is_gone_is_left_out() -> None:
    target = GOOD.article("old-name").slug
    found = phrases({"old-name": (ODD,), target: ("goes crunch",), "no-such": ("lost",)})
    assert set(found[target][-2:]) == {ODD, "goes crunch"}
    assert not any("lost" in said for said in found.values())


def test_an_index_that_takes_them_up_finds_the_article_by_them() -> None:
    index = Index(documents(GOOD, {}, {}), GOOD.words)
    assert not index.search(ODD).fits
    index.update(documents(GOOD, {}, {}, {"opening-list": (ODD,)}))
    answer = index.search(ODD)
    assert answer.fits
    assert answer.hits[0].slug == "opening-list"


def test_no_tree_stands_under_a_translation() -> None:
    library, _ = store.load(store.shipped())
    trees = load_trees(library)
    found = {one.slug: one for one in documents(library, trees, {})}
    under = {slug: found[slug].reports_as for slug in trees if slug in found}
    assert under
    assert {one for one in under.values() if library.articles[one].translates} == set()
