"""Worked examples that others published or computed, by the review's own functions.

`worked_examples.json` holds each with its citation and provenance: SEEN in a public source, FROM
MEMORY, or COMPUTED when the file was made. Values named 6.x are those marked (calc) in the
collection of trade values: computed for it by plain Python, by no library and by no code of ours.

Tested elsewhere: Garwood's limits and 6.1 in test_rates.py, the lady tasting tea in
test_shared.py, Erlang's C, 6.11 and Bronson's 24.6 in tests/incidents/test_line.py, 6.9 in
test_alarms.py. Left out, being no methods of ours: the p chart (e-Handbook 6.3.3.2), the chart of
individuals and the CUSUM, the moment iteration of Clayton and Kaldor on the North Carolina SIDS
(ours is by maximum likelihood), Knox's test, standardised mortality ratios, kappa, and the mean
time between failures.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time, timedelta
from math import log
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from kb.base.queueing import steady
from kb.incidents.places import Device, Election, Place
from kb.review.measures.charts import charts, limits, sigma_z
from kb.review.measures.compared import Compared, of_counts
from kb.review.measures.funnel import poisson_tails
from kb.review.measures.hotline import level, seats_for
from kb.review.measures.lost import time_lost
from kb.review.measures.misfeeds import LEVEL, tail
from kb.review.measures.pareto import cumulated
from kb.review.measures.rates import PER_BALLOTS, rate
from kb.review.measures.ratio import ratio
from kb.review.measures.restore import Z, compare, curve, durations, summary
from kb.review.measures.shares import clopper_pearson
from kb.review.measures.shrink import fit, loglik, marshall, shrunken
from kb.review.measures.sparing import enough
from kb.review.rows import Case, Material

STATS = Path(__file__).parents[1] / "fixtures" / "stats"
EXAMPLES: dict[str, dict[str, Any]] = {
    one["id"]: one for one in json.loads((STATS / "worked_examples.json").read_text("utf-8"))
}


def example(name: str) -> tuple[dict[str, Any], dict[str, Any]]:
    return EXAMPLES[name]["inputs"], EXAMPLES[name]["expected"]


def samples(counts: list[int], sizes: list[int] | None = None) -> Compared:
    """Samples in their own order, of size 1 where none is told: a c chart."""
    names = tuple(str(number) for number in range(1, len(counts) + 1))
    return Compared(names, np.array(counts, float), np.array(sizes or [1] * len(counts), float))


@pytest.mark.parametrize("name", ["c_chart_wafer", "c_chart_circuit"])
def test_u_chart_of_equal_samples_is_the_c_chart(name: str) -> None:
    # Wafers: NIST/SEMATECH e-Handbook 6.3.3.1. Circuits: Montgomery, Introduction to Statistical
    # Quality Control, the first 26 samples; R package qcc, data set circuit.
    inputs, expected = example(name)
    found = samples(inputs["counts"])
    low, high = limits(found)
    assert found.centre == pytest.approx(expected["cbar"], abs=5e-6)
    assert low == pytest.approx(expected["lcl"], abs=5e-6)
    assert high == pytest.approx(expected["ucl"], abs=6e-6)
    outside = charts(found)
    told = sorted(int(place) for place in outside["u_above"] + outside["u_below"])
    assert told == expected["out_of_control_index_1based"]


def test_u_chart_of_unequal_samples() -> None:
    # R package qcc, data set dyedcloth (Montgomery): counts and centre seen, limits computed.
    inputs, expected = example("u_chart_dyedcloth")
    found = samples(inputs["counts"], inputs["n"])
    low, high = limits(found)
    assert found.centre == pytest.approx(expected["ubar"], rel=1e-12)
    assert list(low) == pytest.approx(expected["per_sample_lcl"], abs=6e-6)
    assert list(high) == pytest.approx(expected["per_sample_ucl"], abs=6e-6)
    assert charts(found)["u_above"] == charts(found)["u_below"] == []


def test_laneys_sigma_z() -> None:
    # Laney 2002, Quality Engineering 14, 531-537: the method; the number was computed by it.
    inputs, expected = example("laney_u_prime_dyedcloth")
    found = samples(inputs["counts"], inputs["n"])
    assert sigma_z(found) == pytest.approx(expected["sigma_z"], rel=1e-12)
    # The limits are that much wider than those of the u-chart.
    wide, plain = limits(found, expected["sigma_z"])[1], limits(found)[1]
    assert (wide - found.centre) / (plain - found.centre) == pytest.approx(expected["sigma_z"])


def test_clopper_and_pearson_of_4_in_20() -> None:
    # NIST/SEMATECH e-Handbook 7.2.4.2; its limits are from memory, and the upper one ends in
    # ...029 there (found by trial), where the exact one is .4010281.
    inputs, expected = example("clopper_pearson_4_20_90")
    low, high = clopper_pearson(inputs["k"], inputs["n"], inputs["conf"])
    assert low == pytest.approx(expected["lower"], abs=2e-6)
    assert high == pytest.approx(expected["upper"], abs=2e-6)


@pytest.mark.parametrize(
    ("feeds", "count", "chance"), [(500, 4, 0.0189), (1000, 6, 0.0165), (2000, 9, 0.0212)]
)
def test_misfeeds_beyond_one_in_500(feeds: int, count: int, chance: float) -> None:
    # Computed from the benchmark of VVSG 2.0, requirement 1.2-G.
    assert tail(count, feeds) == pytest.approx(chance, abs=5e-5)
    assert tail(count, feeds) <= LEVEL < tail(count - 1, feeds)


def test_sheets_without_a_misfeed_that_show_the_benchmark_is_met() -> None:
    # From VVSG 2.0, 1.2-G: ln .05 / ln .998 = 1496.4. One-sided 95 % is two-sided 90 %; 6.8
    # rounds it to 1,500.
    inputs, expected = example("misfeed_zero_defect_n")
    least, benchmark = expected["n_min"], inputs["p0"]
    both_sides = 1 - 2 * (1 - inputs["conf"])
    assert clopper_pearson(inputs["k"], least, both_sides)[1] < benchmark
    assert clopper_pearson(inputs["k"], least - 1, both_sides)[1] > benchmark


@pytest.mark.parametrize(
    ("feeds", "at_5_percent", "at_a_thousandth"),
    [
        (100, 2, 4),
        (250, 3, 5),
        (500, 4, 6),
        (1000, 6, 9),
        (2000, 9, 12),
        (5000, 16, 22),
        (20_000, 52, 62),
    ],
)
def test_from_how_many_misfeeds_on_a_model_is_flagged(
    feeds: int, at_5_percent: int, at_a_thousandth: int
) -> None:
    """6.8 (calc)."""
    assert next(k for k in range(1, 100) if tail(k, feeds) <= LEVEL) == at_5_percent
    assert next(k for k in range(1, 100) if tail(k, feeds) <= 0.001) == at_a_thousandth


def test_three_jams_on_819_ballots_are_not_above_the_benchmark() -> None:
    """6.8 (calc), on one precinct's published postmortem: five would be needed."""
    assert tail(3, 819) == pytest.approx(0.226, abs=5e-4)
    assert tail(4, 819) > LEVEL
    assert tail(5, 819) == pytest.approx(0.0257, abs=5e-5)


def test_kaplan_meier_of_6_mp() -> None:
    # Freireich et al. 1963, Blood 21, 699-716, in the textbooks' table: share and Greenwood's
    # standard error, both from memory.
    inputs, expected = example("km_6mp")
    found = durations([(t, bool(e)) for t, e in zip(inputs["t"], inputs["event"], strict=True)])
    line = curve(found)
    times, _, _, shares, errors = zip(*expected["rows"], strict=True)
    assert list(line.times) == list(times)
    assert list(line.share) == pytest.approx(shares, abs=6e-5)
    # The error is inside the limits: log(-log) of them lies Z x error / (S |log S|) either side.
    width = np.log(-np.log(line.low)) - np.log(-np.log(line.high))
    error = width / 2 / Z * line.share * np.abs(np.log(line.share))
    assert list(error) == pytest.approx(errors, abs=6e-5)
    told = summary(found)
    assert (told["n"], told["restored"], told["open"]) == (21, 9, 12)
    assert told["median"] == expected["median"]
    # Each limit by its definition: the first time at which it is at most one half.
    assert told["median_low"] == line.times[line.low <= 0.5][0]
    assert told["q75"] is told["median_high"] is None


def test_log_rank_of_6_mp_and_placebo() -> None:
    # The same trial; 16.79 is from memory, more digits from an outside library.
    treated, _ = example("km_6mp")
    inputs, expected = example("logrank_6mp")
    mp = durations([(t, bool(e)) for t, e in zip(treated["t"], treated["event"], strict=True)])
    placebo = durations([(t, True) for t in inputs["placebo"]])
    found, apart = compare({"6-MP": mp, "placebo": placebo})
    assert found is not None
    assert found.chi2 == pytest.approx(expected["chi2"], abs=5e-5)
    assert found.degrees == expected["df"]
    assert found.p == pytest.approx(expected["p"], rel=2e-3)
    # Longer in remission on 6-MP: fewer ended than expected.
    treated_apart = apart["6-MP"]
    assert treated_apart is not None
    assert treated_apart.excess < 0


def test_erlang_c_of_360_calls_in_half_an_hour() -> None:
    # A step by step page on Erlang C; its results are from memory. Its share of calls that wait
    # is in tests/incidents/test_line.py.
    inputs, expected = example("erlang_c_360")
    handling, agents = inputs["aht_s"], inputs["agents"]
    load = inputs["calls"] / inputs["interval_s"] * handling
    assert load == pytest.approx(expected["traffic"])
    wait = steady(inputs["calls"] / inputs["interval_s"], 1 / handling, agents).wait
    assert wait == pytest.approx(expected["asa_s"], abs=5e-4)
    # Our level is for 20 s; only target / handling matters, so 15 s of 240 are 20 s of 320.
    scaled = handling * 20 / inputs["target_s"]
    assert level(load, agents, scaled) == pytest.approx(expected["service_level"], abs=5e-5)


def test_bronsons_single_servers() -> None:
    # Bronson, Schaum's Operations Research (1982), problems 23.3 and 23.14.
    inputs, expected = example("mm1_bronson_23_3")
    found = steady(inputs["lam"], inputs["mu"], inputs["s"])
    assert found.wait + 1 / inputs["mu"] == pytest.approx(expected["W"])
    assert found.line + inputs["lam"] / inputs["mu"] == pytest.approx(expected["L"])
    # Of one server the share that finds it idle need not wait.
    assert 1 - found.must_wait == pytest.approx(expected["p0"])
    inputs, expected = example("mm1_bronson_23_14")
    found = steady(inputs["lam"], inputs["mu"], inputs["s"])
    assert found.line == pytest.approx(expected["Lq"])
    assert found.wait * 60 == pytest.approx(expected["Wq_min"])
    assert 1 - found.must_wait == pytest.approx(expected["p0"])


def test_two_doctors() -> None:
    # Hillier and Lieberman, the county hospital; from memory.
    inputs, expected = example("mm2_hospital")
    found = steady(inputs["lam"], inputs["mu"], inputs["s"])
    assert found.line == pytest.approx(expected["Lq"])
    assert found.wait == pytest.approx(expected["Wq"])
    assert found.wait + 1 / inputs["mu"] == pytest.approx(expected["W"])
    assert found.line + inputs["lam"] / inputs["mu"] == pytest.approx(expected["L"])


def test_marshalls_rates_of_78_counties_at_any_scale() -> None:
    # Python package esda, docstring of Empirical_Bayes (Marshall 1991) on libpysal's stl_hom.
    inputs, expected = example("eb_stl")
    told = json.loads((STATS / inputs["file"]).read_text("utf-8"))
    events, people = np.array(told["events"]), np.array(told["population"])
    names = tuple(str(number) for number in range(len(events)))
    between, rates = marshall(Compared(names, events, people))
    assert list(rates[:10]) == pytest.approx(expected["first10"], rel=1e-8)
    # Of all 78, and of the variance between them: as computed when the file was made.
    assert list(rates) == pytest.approx(told["eb_rate"], rel=1e-9)
    assert between == pytest.approx(told["prior_var"], rel=1e-9)
    # Per 1,000, as the review has it: the rates are a thousandfold, their variance a millionfold.
    scaled, per_1000 = marshall(of_counts(names, list(map(int, events)), list(map(int, people))))
    assert list(per_1000) == pytest.approx(list(1000 * rates), rel=1e-9)
    assert scaled == pytest.approx(1e6 * between, rel=1e-9)


def test_gamma_of_lip_cancer_by_maximum_likelihood() -> None:
    # Clayton and Kaldor 1987, Biometrics 43, 671-681; nu 1.879 is from memory, the rest computed.
    inputs, expected = example("eb_lip_mle")
    told = json.loads((STATS / inputs["file"]).read_text("utf-8"))
    k, n = np.array(told["observed"], float), np.array(told["expected"], float)
    assert k.sum() == expected["sumO"]
    assert n.sum() == pytest.approx(expected["sumE"])
    found = fit(k, n)
    assert found.nu is not None
    assert found.alpha is not None
    assert found.nu == pytest.approx(expected["nu"], abs=5e-5)
    assert found.alpha == pytest.approx(expected["alpha"], abs=5e-5)
    assert found.loglik == pytest.approx(expected["loglik"], abs=5e-6)
    # To all digits that an outside optimiser gave, which stopped at a maximum no higher.
    assert found.nu == pytest.approx(told["computed_mle_nu"], rel=1e-5)
    assert found.loglik >= loglik(told["computed_mle_nu"], told["computed_mle_alpha"], k, n) - 1e-9
    names = tuple(str(number) for number in range(len(k)))
    rates, _, _ = shrunken(Compared(names, k, n), found)
    assert list(rates) == pytest.approx(told["computed_mle_posterior_mean"], abs=2e-6)


def test_pareto_of_five_causes() -> None:
    # The example of pareto.chart in R's package qcc, from memory; the arithmetic is exact.
    inputs, expected = example("pareto_qcc")
    found = cumulated({f"cause {number}": one for number, one in enumerate(inputs["counts"])})
    assert [one["value"] for one in found] == expected["sorted"]
    percent = [one["cumulative_percent"] for one in found]
    assert percent == pytest.approx(expected["cum_pct"], abs=5e-4)


DAY = date(2026, 5, 5)


def scanners(whole: int, out: int) -> Material:
    """So many places with one scanner each, voting for 13 hours; some stop for 45 minutes."""
    places = {f"P{n}": Place(place=f"P{n}", name=f"Hall {n}") for n in range(whole)}
    begin = datetime.combine(DAY, time(9), UTC)
    blank = dict.fromkeys(Case._fields) | {
        "equipment": "scanner", "symptom": "jam", "phase": "voting", "effect": "stopped",
        "flags": "", "started": begin, "restored": begin + timedelta(minutes=45),
    }  # fmt: skip
    return Material(
        election=Election(
            election="E", name="E", date=DAY, time_zone="UTC", opens=time(7), closes=time(20)
        ),
        cases=tuple(
            Case(**blank | {"id": f"I{n}", "place": f"P{n}", "asset": f"S{n}"})  # type: ignore[arg-type]
            for n in range(out)
        ),
        places=places,
        devices=tuple(
            Device(asset=f"S{n}", equipment="scanner", place=f"P{n}") for n in range(whole)
        ),
        turnout={},
    )


def test_three_of_200_scanners_out_for_45_minutes() -> None:
    """6.3 (calc): 0.0865 % of the time of all, 5.77 % of that of an affected one."""
    found = time_lost(scanners(200, 3))
    assert found["devices"]["scanner"]["device_hours"] == 200 * 13
    assert 100 * found["devices"]["scanner"]["share"] == pytest.approx(0.0865, abs=5e-5)
    # With one scanner a place, the places lost as much.
    assert 100 * found["share_of_place_time"] == pytest.approx(0.0865, abs=5e-5)
    affected = time_lost(scanners(3, 3))["devices"]["scanner"]["share"]
    assert 100 * affected == pytest.approx(5.77, abs=5e-3)


@pytest.mark.parametrize(
    ("an_hour", "handling", "seats", "share", "wait"),
    [
        (60, 240, 7, 0.895, 10.8),
        (120, 240, 11, 0.809, 19.6),
        (60, 360, 9, 0.834, None),
        (180, 360, 23, 0.856, None),
    ],
)
def test_seats_of_the_hotline(
    an_hour: int, handling: float, seats: int, share: float, wait: float | None
) -> None:
    """6.5 (calc): 80 % of the calls within 20 s, and the mean wait in seconds."""
    found = seats_for(an_hour // 2, handling)
    assert found == (seats, pytest.approx(share, abs=5e-4))
    if wait is not None:
        assert steady(an_hour / 3600, 1 / handling, seats).wait == pytest.approx(wait, abs=0.05)


@pytest.mark.parametrize(
    ("devices", "p", "at_95", "at_99"),
    [
        (200, 0.02, 7, 9),
        (200, 0.05, 15, 18),
        (200, 0.10, 27, 30),
        (50, 0.02, 3, 4),
        (120, 0.05, 10, 12),
        (400, 0.02, 13, 15),
    ],
)
def test_spares_that_are_enough(devices: int, p: float, at_95: int, at_99: int) -> None:
    """6.7 (calc)."""
    assert (enough(devices, p, 0.05), enough(devices, p, 0.01)) == (at_95, at_99)


@pytest.mark.parametrize(("expected", "flagged"), [(1, 6), (2, 9), (5, 14), (10, 22)])
def test_from_how_many_faults_on_a_place_stands_out(expected: float, flagged: int) -> None:
    """6.10 (calc): the smallest count that a Poisson mean reaches once in a thousand."""
    high, _ = poisson_tails(np.arange(50.0), np.full(50, float(expected)))
    assert int(np.flatnonzero(high <= 0.001)[0]) == flagged


@pytest.mark.parametrize(("count", "per_thousand"), [(176, 16.6), (86, 8.1)])
def test_provisional_and_spoiled_ballots_per_thousand(count: int, per_thousand: float) -> None:
    """6.14 (calc), on one precinct's published sheets of eleven elections."""
    found = rate(count, 10_618, PER_BALLOTS)
    assert found is not None
    assert found.value == pytest.approx(per_thousand, abs=0.05)


@pytest.mark.parametrize(
    ("before", "after", "value", "digits", "p"),
    [
        ((48, 60_000), (24, 55_000), 1.83, 0.005, 0.018),
        ((6, 8000), (2, 8000), 3.0, 0.05, 0.29),
    ],
)
def test_before_and_after(
    before: tuple[int, int], after: tuple[int, int], value: float, digits: float, p: float
) -> None:
    """6.16 (calc): the ratio there is before over after, ours the inverse; p is the same."""
    found = ratio(*before, *after)
    assert found.value is not None
    assert 1 / found.value == pytest.approx(value, abs=digits)
    assert found.p == pytest.approx(p, abs=5e-4 if p < 0.1 else 5e-3)
    # The other way round is the inverse, limits and all.
    inverse = ratio(*after, *before)
    assert inverse.p == pytest.approx(found.p)
    assert found.low is not None
    assert inverse.high == pytest.approx(1 / found.low)
    assert log(found.value) == pytest.approx(-log(inverse.value or 0))
