"""Likeness by meaning: shrunken Fisher discriminant directions of phrases' vectors."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.distance import cosine

from kb.search.documents import Document
from kb.search.meaning import _SHRINKAGE, Meanings, MeaningTable, directions, measure
from kb.search.store import KeptVectors
from tests.search.test_store import Counting


def table_of(rows: np.ndarray, sizes: list[int]) -> MeaningTable:
    groups = np.split(rows, np.cumsum(sizes)[:-1])
    means, basis = measure(groups, len(rows))
    return MeaningTable(directions(means, basis), basis)


def phrases(articles: int, each: int, size: int, noise: float) -> np.ndarray:
    """Vectors of phrases around one point an article; the first direction is only noise."""
    random = np.random.default_rng(3)
    points = np.repeat(random.normal(size=(articles, size)), each, axis=0)
    points[:, 0] = 0
    strewn = random.normal(size=points.shape) * 0.1
    strewn[:, 0] = random.normal(size=len(points)) * noise
    rows = points + strewn
    return (rows / np.linalg.norm(rows, axis=1, keepdims=True)).astype(np.float32)


def test_likeness_is_the_cosine_in_the_whitened_space() -> None:
    """The textbook way, by an eigenvalue root of the shrunken covariance and scipy's cosine."""
    rows, each = phrases(7, 9, 16, 1.0), 9
    table = table_of(rows, [each] * 7)
    means = rows.reshape(7, each, -1).mean(axis=1)
    within = rows - np.repeat(means, each, axis=0)
    covariance = within.T @ within / len(rows)
    covariance += (_SHRINKAGE * np.trace(covariance) / 16 + 1e-6) * np.eye(16)
    values, vectors = np.linalg.eigh(covariance)
    root = vectors / np.sqrt(values)
    call, centre = rows[4], rows.mean(axis=0)
    wanted = [1 - cosine((call - centre) @ root, (mean - centre) @ root) for mean in means]
    assert table.likeness(call) == pytest.approx(np.maximum(wanted, 0), abs=1e-4)


def test_a_direction_in_which_phrases_of_one_article_differ_counts_little() -> None:
    rows = phrases(5, 40, 12, 3.0)
    table = table_of(rows, [40] * 5)
    call = rows[80:120].mean(axis=0)
    call[0] += 2
    assert table.likeness(call).argmax() == 2


def test_one_article_and_lone_titles_are_no_error() -> None:
    for sizes in ([1], [1, 1], [3]):
        rows = phrases(1, sum(sizes), 8, 1.0)
        found = table_of(rows, sizes).likeness(rows[0])
        assert found.shape == (len(sizes),)
        assert np.isfinite(found).all()


def test_an_edit_encodes_what_is_new_and_no_more() -> None:
    encoder = Counting()
    meanings = Meanings(KeptVectors(encoder))
    documents = [
        Document(str(number), str(number), f"title {number}", "", phrases=(f"said {number}",))
        for number in range(30)
    ]
    meanings.table(documents)
    encoder.texts.clear()
    documents[3] = replace(documents[3], phrases=("said 3", "said anew"))
    table = meanings.table(documents)
    assert table is not None
    assert encoder.texts == ["said anew"]
    assert table.likeness(encoder.encode(["said anew"])[0]).argmax() == 3


def test_documents_may_come_go_and_change_their_order() -> None:
    meanings = Meanings(KeptVectors(Counting()))
    documents = [Document(str(number), "", f"title {number}", "") for number in range(12)]
    meanings.table(documents)
    fewer = [documents[5], documents[2]]
    table = meanings.table(fewer)
    assert table is not None
    assert table.likeness(Counting().encode(["title 2"])[0]).argmax() == 1
    assert meanings.table([]) is None
