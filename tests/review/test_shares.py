"""Limits of shares against an independent implementation: scipy's exact binomial interval."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from kb.review.measures.shares import clopper_pearson, share


@given(data=st.data(), of=st.integers(1, 400), confidence=st.floats(0.5, 0.999))
def test_limits_are_those_of_scipy(data: st.DataObject, of: int, confidence: float) -> None:
    count = data.draw(st.integers(0, of))
    expected = binomtest(count, of).proportion_ci(confidence, method="exact")
    low, high = clopper_pearson(count, of, confidence)
    assert low == pytest.approx(expected.low, abs=1e-9)
    assert high == pytest.approx(expected.high, abs=1e-9)


def test_none_and_all_reach_the_ends() -> None:
    # By the formula itself: with none of n the upper limit leaves (1 - p)^n = 0.025.
    low, high = clopper_pearson(0, 10)
    assert low == 0
    assert (1 - high) ** 10 == pytest.approx(0.025)
    assert clopper_pearson(10, 10) == (pytest.approx(1 - high), 1)


def test_a_share_says_when_there_are_too_few() -> None:
    few, enough = share(3, 4), share(3, 5)
    assert few is not None
    assert enough is not None
    assert few.too_few
    assert not enough.too_few
    assert enough.value == pytest.approx(0.6)
    assert enough.low < 0.6 < enough.high
    assert share(0, 0) is None


@pytest.mark.parametrize(
    ("count", "of", "level"), [(-1, 5, 0.9), (6, 5, 0.9), (0, 0, 0.9), (1, 2, 1)]
)
def test_no_limits_for_impossible_numbers(count: int, of: int, level: float) -> None:
    with pytest.raises(ValueError, match="no limits"):
        clopper_pearson(count, of, level)
