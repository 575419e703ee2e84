"""What is left in store, and the chance that it lasts."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from scipy.stats import nbinom

from kb.incidents.places import Device
from kb.incidents.spares import chance, hours, spares


def spare(asset: str, place: str | None = None, route: str = "") -> Device:
    told = {"route": route} if route else {}
    return Device(asset=asset, equipment="scanner", place=place, spare=True, **told)


def test_what_went_out_is_not_left() -> None:
    devices = [spare("S1", route="North"), spare("S2", route="South"), spare("S3", route="South")]
    devices.append(Device(asset="D1", equipment="scanner", place="P1"))
    (one,) = spares(devices, ["S3", "D1"], 4, 8)
    assert (one.left, one.used, one.by_route) == (2, 1, (("North", 1), ("South", 1)))


def test_a_spare_that_stands_at_a_place_is_not_in_store() -> None:
    (one,) = spares([spare("S1"), spare("S2", place="P1")], [], 4, 8)
    assert one.left == 1


@pytest.mark.parametrize("used", [0, 1, 4, 11])
@pytest.mark.parametrize("left", [0, 1, 3, 20])
def test_the_chance_is_the_negative_binomials(used: int, left: int) -> None:
    """Against scipy's negative binomial: Gelman et al., Bayesian Data Analysis, 3rd ed., 2.6."""
    gone, to_come = 3.5, 9.5
    expected = nbinom.cdf(left, used + 0.5, gone / (gone + to_come))
    assert chance(used, left, gone, to_come) == pytest.approx(expected, rel=1e-9)


def test_nothing_is_said_before_the_day_and_after_it() -> None:
    opens, closes = (datetime(2026, 11, 3, hour, tzinfo=UTC) for hour in (6, 20))
    assert hours(datetime(2026, 11, 3, 5, tzinfo=UTC), opens, closes) == (0, 14)
    assert hours(datetime(2026, 11, 3, 8, 30, tzinfo=UTC), opens, closes) == (2.5, 11.5)
    assert hours(datetime(2026, 11, 3, 23, tzinfo=UTC), opens, closes) == (14, 0)
    assert chance(3, 2, 0, 14) is None
    assert chance(3, 2, 14, 0) is None
