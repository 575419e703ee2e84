"""What failing devices share, against scipy."""

from __future__ import annotations

from random import Random

import pytest
from scipy.stats import false_discovery_control, fisher_exact

from kb.incidents.places import Device, Place
from kb.review.measures.shared import LEVEL, adjusted, common, greater


def test_the_lady_tasting_tea() -> None:
    """Fisher, The Design of Experiments (1935), II: 3 of 4 cups right, P = 17/70."""
    assert greater(3, 4, 4, 8) == pytest.approx(17 / 70)
    assert greater(4, 4, 4, 8) == pytest.approx(1 / 70)


def test_the_tail_is_fishers() -> None:
    random = Random(5)
    for _ in range(50):
        whole = random.randint(10, 400)
        having, bad = random.randint(1, whole - 1), random.randint(1, whole - 1)
        hit = random.randint(max(0, having + bad - whole), min(having, bad))
        table = [[hit, having - hit], [bad - hit, whole - having - bad + hit]]
        assert greater(hit, having, bad, whole) == pytest.approx(
            fisher_exact(table, "greater").pvalue, rel=1e-6
        )


def test_the_adjustment_is_benjamini_and_hochbergs() -> None:
    """The p-values of Benjamini and Hochberg (1995), section 3.2 (values from memory)."""
    told = [
        0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
        0.5719, 0.6528, 0.7590, 1.0000,
    ]  # fmt: skip
    assert sum(one <= 0.05 for one in adjusted(told)) == 4
    random = Random(6)
    for size in (1, 2, 30):
        some = [random.random() ** 3 for _ in range(size)]
        assert adjusted(some) == pytest.approx(list(false_discovery_control(some)))


def test_a_bad_batch_stands_out_and_small_ones_are_not_tested() -> None:
    places = {f"P{n}": Place(place=f"P{n}", name=f"Hall {n}", zone=f"Z{n % 3}") for n in range(60)}
    devices = [
        Device(
            asset=f"S{n}", equipment="scanner", place=f"P{n}", model="A",
            batch="B9" if n < 10 else "B1" if n < 56 else "B2",
        )
        for n in range(60)
    ]  # fmt: skip
    found = common("scanner", ["S1", "S2", "S3", "S4", "S30"], devices, places)
    assert (found[0].attribute, found[0].value, found[0].failed) == ("batch", "B9", 4)
    assert found[0].adjusted <= LEVEL
    assert {one.value for one in found} == {"B9", "B1", "Z0", "Z1", "Z2"}  # not A, not B2
    assert common("bmd", [], devices, places) == []
