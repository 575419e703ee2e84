"""Vectors kept on disk: never needed twice, and never in the way."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from kb.search.encoder import SIZE, Vectors
from kb.search.store import KeptVectors


class Counting:
    """An encoder of a kind: a text's vector follows from its letters. It counts its texts."""

    def __init__(self) -> None:
        self.texts: list[str] = []

    def encode(self, texts: Sequence[str]) -> Vectors:
        self.texts += texts
        seeds = [int.from_bytes(hashlib.sha256(text.encode()).digest()[:4]) for text in texts]
        rows = np.array([np.random.default_rng(seed).normal(size=SIZE) for seed in seeds])
        return (rows / np.linalg.norm(rows, axis=1, keepdims=True)).astype(np.float32)


def rows(kept: KeptVectors, *texts: str) -> Vectors:
    return next(kept.groups([texts]))


def test_a_text_is_encoded_once_also_after_a_restart(tmp_path: Path) -> None:
    encoder, path = Counting(), tmp_path / "cache" / "v.npz"
    first = rows(KeptVectors(encoder, path), "a", "b", "a")
    assert sorted(encoder.texts) == ["a", "b"]
    assert np.array_equal(first[0], first[2])
    again = rows(KeptVectors(encoder, path), "b", "a")
    assert sorted(encoder.texts) == ["a", "b"]
    assert np.array_equal(again, first[[1, 0]])


def test_kept_vectors_are_as_good_as_fresh_ones(tmp_path: Path) -> None:
    encoder = Counting()
    kept = rows(KeptVectors(encoder, tmp_path / "v.npz"), "a", "b")
    assert np.allclose(kept, encoder.encode(["a", "b"]), atol=1e-3)
    assert kept.dtype == np.float32


def test_what_is_no_longer_asked_for_leaves_the_file(tmp_path: Path) -> None:
    encoder, path = Counting(), tmp_path / "v.npz"
    rows(KeptVectors(encoder, path), "old", "kept")
    rows(KeptVectors(encoder, path), "kept", "new")
    with np.load(path) as file:
        assert len(file["names"]) == 2


@pytest.mark.parametrize("content", [b"", b"not a zip", b"PK\x03\x04broken"])
def test_a_file_that_cannot_be_read_is_made_anew(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "v.npz"
    path.write_bytes(content)
    rows(KeptVectors(Counting(), path), "a")
    encoder = Counting()
    rows(KeptVectors(encoder, path), "a")
    assert encoder.texts == []


def test_a_file_cut_short_is_made_anew(tmp_path: Path) -> None:
    path = tmp_path / "v.npz"
    rows(KeptVectors(Counting(), path), *map(str, range(50)))
    whole = path.read_bytes()
    for share in (0.1, 0.5, 0.9, 0.999):
        path.write_bytes(whole[: int(len(whole) * share)])
        encoder = Counting()
        assert len(rows(KeptVectors(encoder, path), "1", "2")) == 2


def test_where_nothing_can_be_written_vectors_are_kept_in_memory(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    encoder = Counting()
    kept = KeptVectors(encoder, tmp_path / "file" / "v.npz")
    rows(kept, "a")
    rows(kept, "a", "b")
    assert encoder.texts == ["a", "b"]


def test_no_text_no_row() -> None:
    assert rows(KeptVectors(Counting())).shape == (0, SIZE)
