"""Garwood's limits against published values.

`garwood.json` holds values for Garwood 1936 with a `provenance` each: SEEN in a public source,
or COMPUTED by the chi-square form when the file was made (and so only a check of the code).
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import poisson

from kb.review.measures.rates import PER_BALLOTS, PER_DEVICES, garwood, rate

CASES = json.loads((Path(__file__).parents[1] / "fixtures/stats/garwood.json").read_text("utf-8"))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])
def test_limits_are_those_of_the_published_tables(case: dict[str, dict[str, float]]) -> None:
    low, high = garwood(int(case["inputs"]["x"]), confidence=case["inputs"]["conf"])
    digits = 2 if "2 decimals" in str(case["note"]) else 3
    assert low == pytest.approx(case["expected"]["lower"], abs=0.6 * 10**-digits)
    assert high == pytest.approx(case["expected"]["upper"], abs=0.6 * 10**-digits)


def test_rate_per_thousand_ballots() -> None:
    # A worked example computed outside this project: 23 faults on 41,000 ballots.
    found = rate(23, 41_000, PER_BALLOTS)
    assert found is not None
    assert (round(found.value, 3), round(found.low, 3), round(found.high, 3)) == (
        0.561,
        0.356,
        0.842,
    )


def test_rate_per_hundred_devices_has_its_own_exposure() -> None:
    found = rate(6, 48, PER_DEVICES)
    assert found is not None
    assert found.value == pytest.approx(12.5)


@given(count=st.integers(1, 5000), confidence=st.floats(0.5, 0.999))
def test_each_limit_leaves_its_tail_by_the_poisson_law(count: int, confidence: float) -> None:
    # The definition of exact limits, judged by scipy's Poisson distribution.
    low, high = garwood(count, confidence=confidence)
    tail = (1 - confidence) / 2
    assert poisson.sf(count - 1, low) == pytest.approx(tail, rel=1e-6)
    assert poisson.cdf(count, high) == pytest.approx(tail, rel=1e-6)


def test_no_rate_without_exposure() -> None:
    assert rate(3, 0, PER_BALLOTS) is None


def test_no_limits_for_impossible_numbers() -> None:
    for count, exposure, confidence in ((-1, 1.0, 0.95), (1, 0.0, 0.95), (1, 1.0, 1.0)):
        with pytest.raises(ValueError, match="no limits"):
            garwood(count, exposure, confidence)


def test_few_is_under_five() -> None:
    four, five = rate(4, 100, 1), rate(5, 100, 1)
    assert four is not None
    assert five is not None
    assert (four.too_few, five.too_few) == (True, False)
