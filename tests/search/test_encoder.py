"""The sentence encoder that all figures were measured with, and none other."""

from __future__ import annotations

import numpy as np
import pytest

from kb.search import encoder as module
from kb.search.encoder import SIZE, WEIGHTS, encoder, weights_fingerprint


def test_the_weights_are_those_that_the_figures_were_measured_with() -> None:
    assert weights_fingerprint() == WEIGHTS


def test_vectors_have_length_one_and_a_batch_is_as_its_texts_alone() -> None:
    made = encoder()
    assert made is not None
    texts = ["the lid will not shut", "", "¿dónde está la llave?", "x" * 500]
    rows = made.encode(texts)
    assert rows.shape == (4, SIZE)
    assert rows.dtype == np.float32
    assert np.allclose(np.linalg.norm(rows, axis=1), 1, atol=1e-5)
    alone = np.concatenate([made.encode([text]) for text in texts])
    assert np.allclose(rows, alone, atol=1e-5)
    assert made.encode([]).shape == (0, SIZE)


@pytest.mark.parametrize(
    ("call", "same", "other"),
    [
        ("la tapa no cierra", "the lid does not close", "the line is too long"),
        ("la pantalla se congeló", "the screen is frozen", "we are out of ballots"),
        ("no tenemos la llave", "we do not have the key", "the printer is jammed"),
    ],
)
def test_spanish_and_english_of_one_meaning_are_near(call: str, same: str, other: str) -> None:
    made = encoder()
    assert made is not None
    near, far = made.encode([same, other]) @ made.encode([call])[0]
    assert near > far + 0.2


def test_without_its_package_there_is_no_encoder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "find_spec", lambda _: None)
    encoder.cache_clear()
    assert encoder() is None
    assert weights_fingerprint() == ""
    encoder.cache_clear()
