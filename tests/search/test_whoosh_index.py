import numpy as np
import pytest
from whoosh.fields import UnknownFieldError

from kb.search.whoosh_index import WhooshIndex, as_query, term_scores


def test_kept_scores_are_those_of_whoosh_asked_afresh(index):
    scorer = index.scorer()
    for query in ("its jammed at the slot", "scanner no power", "tag gone ballot"):
        concepts = scorer.edition.reader.read(query)
        kept = scorer.by_fields(concepts)
        found = scorer.searcher.search(as_query(concepts), limit=None, optimize=False)
        fresh = np.zeros_like(kept)
        for hit in found:
            fresh[scorer.edition.places[hit["slug"]]] = hit.score
        assert np.allclose(kept, fresh)
        assert kept.max() > 0


def test_a_failed_write_changes_nothing_and_lets_the_next_one_in():
    index = WhooshIndex()
    index.write({"one": {"title": "jam"}})
    with pytest.raises(UnknownFieldError):
        index.write({"two": {"title": "jam"}, "three": {"title": "jam", "no_such_field": "jam"}})
    with index.searcher() as searcher:
        assert len(term_scores(searcher, "jam")) == 1
    index.write({"two": {"title": "jam"}})
    with index.searcher() as searcher:
        assert len(term_scores(searcher, "jam")) == 2


def test_two_indexes_share_no_temporary_folder():
    folders = set()
    for index in (WhooshIndex(), WhooshIndex()):
        writer = index._index.writer()
        folders.add(writer._tempstorage.folder)
        writer.cancel()
    assert len(folders) == 2


def test_many_small_changes_keep_few_segments():
    index = WhooshIndex()
    for number in range(30):
        index.write({f"slug-{number}": {"title": "jam"}})
    assert len(index._index._segments()) <= 7
    with index.searcher() as searcher:
        assert len(term_scores(searcher, "jam")) == 30
