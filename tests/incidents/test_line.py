"""Lines: the backlog cases and M/M/c values of the collection of trade values, 6.5 and 6.11.

Those marked (calc) there were computed for it; Bronson's is from Schaum's Operations Research
(1982), problem 24.6, as quoted in worked_examples.json.
"""

from __future__ import annotations

from math import inf

import pytest

from kb.base.queueing import erlang_c, steady
from kb.incidents.line import Outage, by_hour, expect, quick_wait, sentence


@pytest.mark.parametrize(
    ("load", "servers", "share"),
    [
        (1, 2, 1 / 3),
        (2, 3, 0.444444),
        (4, 6, 0.2848),
        (5, 6, 0.587516),
        (5, 7, 0.32415),
        (10, 11, 0.682118),
        (10, 12, 0.449388),
        (10, 14, 0.174132),
        (20, 24, 0.298072),
        (48, 55, 0.238701),
    ],
)
def test_erlang_c(load: float, servers: int, share: float) -> None:
    assert erlang_c(load, servers) == pytest.approx(share, abs=1e-4)


def test_m_m_1_waits_the_load_over_what_is_left() -> None:
    # The textbook form of M/M/1: Wq = rho / (mu - lambda).
    assert steady(2, 3, 1).wait == pytest.approx(2 / 3)
    assert steady(2, 3, 1).line == pytest.approx(4 / 3)


def test_bronson_24_6() -> None:
    found = steady(300, 182.5, 3)
    assert found.line == pytest.approx(0.352, abs=5e-4)
    assert found.wait == pytest.approx(0.001175, abs=5e-6)


@pytest.mark.parametrize(("servers", "share", "minutes"), [(2, 0.7576, 2.27), (3, 0.2998, 0.22)])
def test_m_m_c_of_the_trade_values(servers: int, share: float, minutes: float) -> None:
    found = steady(100, 60, servers)
    assert found.must_wait == pytest.approx(share, abs=5e-5)
    assert found.wait * 60 == pytest.approx(minutes, abs=5e-3)


def test_two_scanners_one_out() -> None:
    line = expect(Outage(arrivals=140, service=100, up=1, whole=2, minutes=45))
    assert (line.backlog, line.clears, line.longest) == pytest.approx((30, 30, 18))


def test_all_out_and_ballots_are_stored() -> None:
    line = expect(Outage(arrivals=120, service=300, up=0, whole=1, minutes=45, stores=1))
    assert line.stored == pytest.approx(90)
    # 12 seconds a ballot is 300 an hour: 18 minutes of feeding.
    assert line.stored / 300 * 60 == pytest.approx(18)
    assert line.backlog == 0


def test_the_telephones_rule() -> None:
    assert quick_wait(20, 60) == pytest.approx(20)
    assert quick_wait(20, 0) == inf


def test_who_stands_there_now_may_wait_longest() -> None:
    line = expect(Outage(arrivals=10, service=60, up=0, whole=1, minutes=30, waiting=40))
    assert line.longest == pytest.approx(30 + 40)


def test_what_is_read_to_the_judge() -> None:
    assert "will not clear" in sentence(
        expect(Outage(arrivals=200, service=100, up=1, whole=1, minutes=30))
    )
    assert "No line" in sentence(
        expect(Outage(arrivals=20, service=100, up=1, whole=1, minutes=30))
    )
    said = sentence(expect(Outage(arrivals=140, service=100, up=1, whole=2, minutes=45)))
    assert "about 30 in line" in said
    assert "18 minutes" in said
    long = sentence(expect(Outage(arrivals=140, service=60, up=1, whole=3, minutes=90)))
    assert "over thirty minutes" in long


def test_voters_by_hour_are_the_days_shares() -> None:
    assert by_hour(600, [2, 1, 1, 2]) == pytest.approx([200, 100, 100, 200])
    assert by_hour(600, []) == []
