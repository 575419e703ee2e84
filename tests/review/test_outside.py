"""The numbers of a review against outside libraries, on fifty random records.

lifelines for durations, statsmodels and scipy for the rest; plain counting by the minute for
time lost. Where a library defines a thing otherwise, the comment beside the check says how.
"""

from __future__ import annotations

from collections import Counter
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pytest
from lifelines import KaplanMeierFitter
from lifelines.statistics import logrank_test, multivariate_logrank_test
from lifelines.utils import qth_survival_time
from numpy.random import Generator, default_rng
from scipy import stats
from scipy.optimize import minimize_scalar
from statsmodels.discrete.discrete_model import NegativeBinomial
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.rates import confint_poisson

from kb.incidents.places import Device, Election, Place
from kb.review.day.alarms import Baseline
from kb.review.measures import shared
from kb.review.measures.compared import Array, Compared
from kb.review.measures.funnel import funnel, gamma_tails, poisson_tails, winsorised
from kb.review.measures.lost import time_lost
from kb.review.measures.misfeeds import BENCHMARK, tail
from kb.review.measures.rates import garwood
from kb.review.measures.ratio import ratio
from kb.review.measures.restore import (
    LEVELS,
    TOLERANCE,
    Durations,
    compare,
    curve,
    durations,
    summary,
)
from kb.review.measures.shares import clopper_pearson
from kb.review.measures.shrink import Gamma, fit, shrunken
from kb.review.measures.spans import Span, common, length
from kb.review.measures.sparing import enough
from kb.review.rows import Case, Material

REL = 1e-6
DAY = date(2026, 5, 5)
ZERO = datetime.combine(DAY, time(0), UTC)


@pytest.fixture(params=range(50), ids=lambda seed: f"seed{seed}")
def rng(request: pytest.FixtureRequest) -> Generator:
    return default_rng(request.param)


def close(found: object, expected: object, rel: float = REL) -> None:
    # Numbers below 1e-300 have lost their digits in any library.
    np.testing.assert_allclose(found, expected, rtol=rel, atol=1e-300)  # type: ignore[call-overload]


# Minutes to restore


def some_durations(rng: Generator, least: int = 3, scale: float = 60.0) -> Durations:
    """Whole minutes, so that many are equal; at least one restored."""
    many = int(rng.integers(least, 60))
    took = np.ceil(rng.exponential(scale, many))
    restored = rng.random(many) < rng.uniform(0.4, 1.0)
    restored[rng.integers(many)] = True
    return durations(list(zip(took.tolist(), restored.tolist(), strict=True)))


def fitted(found: Durations) -> KaplanMeierFitter:
    return KaplanMeierFitter().fit(found.minutes, found.restored)


# lifelines takes logarithms where the share is 0 or 1, and sets those limits right afterwards.
@pytest.mark.filterwarnings("ignore:divide by zero:RuntimeWarning")
@pytest.mark.filterwarnings("ignore:invalid value:RuntimeWarning")
def test_kaplan_meier_is_that_of_lifelines(rng: Generator) -> None:
    found = some_durations(rng)
    ours, theirs = curve(found), fitted(found)
    # lifelines has a row for 0 and for each censored time as well; nothing changes there.
    rows = theirs.survival_function_.join(theirs.confidence_interval_).loc[ours.times]
    close(ours.share, rows.iloc[:, 0])
    close(ours.low, rows.iloc[:, 1])
    close(ours.high, rows.iloc[:, 2])
    others = theirs.survival_function_.drop(ours.times).iloc[:, 0]
    assert set(others) <= {1.0, *theirs.survival_function_.loc[ours.times].iloc[:, 0]}


@pytest.mark.filterwarnings("ignore:divide by zero:RuntimeWarning")
@pytest.mark.filterwarnings("ignore:invalid value:RuntimeWarning")
def test_quartiles_are_those_of_lifelines(rng: Generator) -> None:
    found = some_durations(rng)
    told, theirs = summary(found), fitted(found)
    lines = {
        "": theirs.survival_function_.iloc[:, 0],
        "_low": theirs.confidence_interval_.iloc[:, 0],
        "_high": theirs.confidence_interval_.iloc[:, 1],
    }
    for name, at in LEVELS.items():
        for limit, line in lines.items():
            # A level counts as reached within a tolerance here; lifelines compares exactly, so
            # a tie goes by its last digit there. Its curve with our rule:
            reached = line.index[line <= at + TOLERANCE]
            expected = float(reached[0]) if len(reached) else None
            assert told[name + limit] == expected
            # And by its own rule where there is no tie and the line never rises (limits may).
            if not np.isclose(line, at, atol=1e-8).any() and line.is_monotonic_decreasing:
                own = float(qth_survival_time(at, line))
                assert (told[name + limit] or np.inf) == own


def test_an_exact_tie_counts_as_reached() -> None:
    # Of ten, 8/10 x 6/8 x 5/6: one half by arithmetic, and just over it in floating point.
    told = [(1.0, True)] * 2 + [(2.0, True)] * 2 + [(3.0, True)] + [(9.0, False)] * 5
    found = durations(told)
    assert curve(found).share[-1] > 0.5
    assert summary(found)["median"] == 3.0


def test_log_rank_is_that_of_lifelines(rng: Generator) -> None:
    names = [f"Z{number}" for number in range(int(rng.integers(2, 6)))]
    groups = {name: some_durations(rng, 1, rng.uniform(30, 90)) for name in names}
    minutes = np.concatenate([group.minutes for group in groups.values()])
    restored = np.concatenate([group.restored for group in groups.values()])
    of = np.repeat(names, [len(group) for group in groups.values()])
    # Where nobody could be restored sooner or later than another the statistic has no value: ours
    # is then None, where lifelines says 0. No record here is so.
    at_once, apart = compare(groups)
    theirs = multivariate_logrank_test(minutes, of, restored)
    assert at_once is not None
    assert at_once.degrees == len(groups) - 1 == theirs.degrees_of_freedom
    close(at_once.chi2, theirs.test_statistic)
    close(at_once.p, theirs.p_value)
    for name, one in apart.items():
        inside = of == name
        expected = logrank_test(
            minutes[inside], minutes[~inside], restored[inside], restored[~inside]
        )
        assert one is not None
        close(one.chi2, expected.test_statistic)
        close(one.p, expected.p_value)


# Places compared


def some_places(rng: Generator) -> Compared:
    """Places of very different size, with more differences than chance in most records."""
    many = int(rng.integers(5, 60))
    n = rng.lognormal(0, rng.uniform(0.2, 1.0), many)
    shape = rng.uniform(0.5, 8)
    k = rng.poisson(n * rng.uniform(1, 6) * rng.gamma(shape, 1 / shape, many))
    k[rng.integers(many)] += 1
    return Compared(tuple(f"P{number:02}" for number in range(many)), k.astype(float), n)


def outside_gamma(k: Array, n: Array) -> tuple[float, float]:
    """nu and alpha of statsmodels: log mean rate and 1 / nu are its parameters."""
    model = NegativeBinomial(k, np.ones((len(k), 1)), loglike_method="nb2", exposure=n)
    start = [np.log(k.sum() / n.sum()), 0.5]
    near = model.fit(start, method="nm", maxiter=2000, disp=0)
    constant, dispersion = model.fit(
        near.params, method="newton", maxiter=100, tol=1e-12, disp=0
    ).params
    return 1 / dispersion, 1 / dispersion / np.exp(constant)


def nbinom_loglik(nu: float, alpha: float, k: Array, n: Array) -> float:
    return float(stats.nbinom.logpmf(k, nu, alpha / (alpha + n)).sum())


def test_gamma_by_maximum_likelihood_is_that_of_statsmodels(rng: Generator) -> None:
    found = some_places(rng)
    k, n = found.k, found.n
    ours = fit(k, n)
    poisson = float(stats.poisson.logpmf(k, found.expected).sum())
    if ours.nu is None or ours.alpha is None:
        # No shape does better than an infinite one, each with its own best rate.
        close(ours.loglik, poisson)
        for nu in np.geomspace(0.05, 1e4, 25):
            near = np.log(nu / found.centre)
            best = minimize_scalar(
                lambda log_alpha, nu=nu: -nbinom_loglik(nu, np.exp(log_alpha), k, n),
                bounds=(near - 3, near + 3),
                method="bounded",
            )
            assert -best.fun <= poisson + 1e-9
        return
    close(ours.loglik, nbinom_loglik(ours.nu, ours.alpha, k, n), 1e-9)
    assert ours.loglik > poisson
    nu, alpha = outside_gamma(k, n)
    highest = nbinom_loglik(nu, alpha, k, n)
    close(ours.loglik, highest, 1e-9)
    assert ours.loglik >= highest - 1e-9 * abs(highest)
    close(ours.nu, nu)
    close(ours.alpha, alpha)


def test_tails_are_those_of_scipy(rng: Generator) -> None:
    found = some_places(rng)
    k, n = found.k, found.n
    at_least, at_most = poisson_tails(k, found.expected)
    close(at_least, stats.poisson.sf(k - 1, found.expected))
    close(at_most, stats.poisson.cdf(k, found.expected))
    nu, alpha = rng.uniform(0.2, 20), rng.uniform(0.1, 5)
    at_least, at_most = gamma_tails(k, n, Gamma(nu, alpha, 0.0), found.centre)
    close(at_least, stats.nbinom.sf(k - 1, nu, alpha / (alpha + n)))
    close(at_most, stats.nbinom.cdf(k, nu, alpha / (alpha + n)))


def test_funnels_flag_what_scipy_would(rng: Generator) -> None:
    found = some_places(rng)
    k, n, e = found.k, found.n, found.k.sum() / found.n.sum() * found.n
    gamma = fit(k, n)
    told = funnel(found, gamma)

    def named(which: Array) -> list[str]:
        return [place for place, is_so in zip(found.places, which, strict=True) if is_so]

    at_least, at_most = stats.poisson.sf(k - 1, e), stats.poisson.cdf(k, e)
    assert told["exact_95_high"] == named(at_least <= 0.025)
    assert told["exact_998_high"] == named(at_least <= 0.001)
    assert told["exact_95_low"] == named(at_most <= 0.025)
    assert told["exact_998_low"] == named(at_most <= 0.001)
    if gamma.nu is not None and gamma.alpha is not None:
        p = gamma.alpha / (gamma.alpha + n)
        assert told["gamma_poisson_95_high"] == named(stats.nbinom.sf(k - 1, gamma.nu, p) <= 0.025)
        assert told["gamma_poisson_998_high"] == named(stats.nbinom.sf(k - 1, gamma.nu, p) <= 0.001)
        assert told["gamma_poisson_95_low"] == named(stats.nbinom.cdf(k, gamma.nu, p) <= 0.025)
    # Pearson's chi-square of the counts against their expectations, one degree taken off.
    chi2, p_value = stats.chisquare(k, e)
    close(told["dispersion_p"], p_value)
    close(told["phi_plain"], chi2 / len(k))


def test_winsorised_dispersion(rng: Generator) -> None:
    # scipy's winsorize sets the int(0.1 I) outermost values to the next one inside; ours sets to
    # percentiles interpolated between order statistics. Both are the same where 0.1 (I - 1) is a
    # whole number.
    z = rng.normal(0, 2, 10 * int(rng.integers(1, 6)) + 1)
    close(winsorised(z), (stats.mstats.winsorize(z, (0.1, 0.1)) ** 2).mean())
    # Elsewhere by hand: the value at the fractional rank 0.1 (I - 1) from either end.
    z = rng.normal(0, 2, int(rng.integers(2, 60)))
    order, rank = np.sort(z), 0.1 * (len(z) - 1)
    at, part = int(rank), rank - int(rank)
    low = order[at] + part * (order[at + 1] - order[at])
    high = order[-1 - at] + part * (order[-2 - at] - order[-1 - at])
    close(winsorised(z), sum(min(max(one, low), high) ** 2 for one in z) / len(z))


def test_shrunken_rates_are_the_gammas(rng: Generator) -> None:
    found = some_places(rng)
    gamma = Gamma(rng.uniform(0.2, 20), rng.uniform(0.1, 5), 0.0)
    assert gamma.nu is not None
    assert gamma.alpha is not None
    after = stats.gamma(gamma.nu + found.k, scale=1 / (gamma.alpha + found.n))
    rates, low, high = shrunken(found, gamma)
    close(rates, after.mean())
    close(low, after.ppf(0.025))
    close(high, after.ppf(0.975))


# Counts and shares


def test_garwoods_limits(rng: Generator) -> None:
    count, exposure = int(rng.integers(0, 400)), rng.uniform(0.01, 900)
    level = rng.choice([0.9, 0.95, 0.998])
    low, high = garwood(count, exposure, level)
    theirs = confint_poisson(count, exposure, method="exact-c", alpha=1 - level)
    # statsmodels' lower limit of no event is no number; it is 0 by definition.
    close(low, theirs[0] if count else 0.0)
    close(high, theirs[1])
    close(high, stats.chi2.ppf(1 - (1 - level) / 2, 2 * count + 2) / 2 / exposure)


def test_clopper_and_pearsons_limits(rng: Generator) -> None:
    of = int(rng.integers(1, 5000))
    count = int(rng.choice([0, of, rng.integers(0, of + 1), rng.binomial(of, 0.003)]))
    close(clopper_pearson(count, of), proportion_confint(count, of, 0.05, method="beta"))


def test_exact_ratio_of_two_rates(rng: Generator) -> None:
    k1, k2 = int(rng.poisson(rng.uniform(0.5, 40))), int(rng.poisson(rng.uniform(0.5, 40))) + 1
    n1, n2 = int(rng.integers(100, 60_000)), int(rng.integers(100, 60_000))
    share = n2 / (n1 + n2)
    found = ratio(k1, n1, k2, n2)
    test = stats.binomtest(k2, k1 + k2, share)
    close(found.p, test.pvalue)
    sides = [
        stats.binomtest(k2, k1 + k2, share, alternative=side).pvalue for side in ("less", "greater")
    ]
    close(found.central, min(1.0, 2 * min(sides)))
    limits = test.proportion_ci(0.95, method="exact")
    close(found.low, limits.low / (1 - limits.low) * n1 / n2)
    if k1:
        close(found.value, (k2 / n2) / (k1 / n1))
        close(found.high, limits.high / (1 - limits.high) * n1 / n2)
    else:
        assert found.value is found.high is None


def test_misfeed_tail(rng: Generator) -> None:
    feeds = int(rng.integers(1, 40_000))
    count = min(feeds, int(rng.poisson(feeds * rng.uniform(0, 0.008))))
    expected = stats.binomtest(count, feeds, BENCHMARK, alternative="greater").pvalue
    close(tail(count, feeds), expected)


def test_spares_that_are_enough(rng: Generator) -> None:
    devices = int(rng.integers(1, 1500))
    p = int(rng.integers(0, devices + 1) * rng.random() ** 3) / devices
    for risk in (0.05, 0.01):
        found = enough(devices, p, risk)
        # Where P(X > s) is the risk itself, the last digit decides at scipy.
        tie = np.isclose(stats.binom.sf([found - 1, found], devices, p), risk, atol=1e-12).any()
        assert tie or found == int(stats.binom.ppf(1 - risk, devices, p))


def test_chance_of_an_alarm_by_the_negative_binomial(rng: Generator) -> None:
    known, elections, places = int(rng.integers(0, 40)), int(rng.integers(1, 6)), 3
    before = Baseline({"scanner|jam": known}, (), elections)
    # K + 1/2 reports in T hours, and one hour more: size K + 1/2, probability T / (T + 1).
    hours = before.hours * elections
    for least in range(places, places + 8):
        found = before.by_chance("scanner|jam", 600.0, least)
        close(found, stats.nbinom.sf(least - 1, known + 0.5, hours / (hours + 1)))


def test_attributes_in_common(rng: Generator) -> None:
    places = {f"P{n}": Place(place=f"P{n}", name=f"Hall {n}", zone=f"Z{n % 4}") for n in range(40)}
    devices = [
        Device(
            asset=f"S{n}",
            equipment="scanner",
            place=f"P{rng.integers(40)}",
            model=f"M{rng.integers(3)}",
            batch=f"B{rng.integers(6)}",
        )
        for n in range(int(rng.integers(20, 160)))
    ]
    often = rng.uniform(0.02, 0.5)
    failed = {one.asset for one in devices if rng.random() < often * (1 + 2 * (one.batch == "B1"))}
    found = shared.common("scanner", failed, devices, places, shared.ATTRIBUTES)
    having = Counter(
        (attribute, value)
        for one in devices
        for attribute, value in (
            ("batch", one.batch), ("model", one.model), ("zone", places[str(one.place)].zone)
        )
    )  # fmt: skip
    several = {name for name, many in having.items() if 5 <= many < len(devices)}
    assert {(one.attribute, one.value) for one in found} == several
    for one in found:
        told = one.table()
        table = [[told["failed_in"], told["ok_in"]], [told["failed_out"], told["ok_out"]]]
        assert np.sum(table) == len(devices)
        close(one.p, stats.fisher_exact(table, "greater").pvalue)
    _, expected, _, _ = multipletests([one.p for one in found], method="fdr_bh")
    close([one.adjusted for one in found], expected)


# Time lost, by the minute


def some_spans(rng: Generator, many: int) -> tuple[list[Span], Array]:
    """Spans of whole minutes in a day, and the minutes that they cover."""
    grid = np.zeros(1440, bool)
    spans = []
    for begin in map(int, rng.integers(0, 1200, many)):
        end = begin + int(rng.integers(1, 120))
        grid[begin:end] = True
        spans.append((_minute(begin), _minute(end)))
    return spans, grid


def _minute(number: int) -> datetime:
    return ZERO + timedelta(minutes=number)


def test_union_and_common_time_by_the_minute(rng: Generator) -> None:
    one, in_one = some_spans(rng, int(rng.integers(1, 40)))
    other, in_other = some_spans(rng, int(rng.integers(1, 40)))
    assert length(one) == in_one.sum()
    assert length(one + other) == (in_one | in_other).sum()
    assert length(common(one, other)) == (in_one & in_other).sum()


def test_time_lost_by_the_minute(rng: Generator) -> None:
    opens, closes, cut_off = 7 * 60, 20 * 60, 22 * 60
    places = {f"P{n}": Place(place=f"P{n}", name=f"Hall {n}") for n in range(4)}
    places["P3"] = Place(place="P3", name="Hall 3", opens=time(9, 30), closes=time(18))
    hours = dict.fromkeys(places, (opens, closes)) | {"P3": (570, 1080)}
    devices = tuple(
        Device(asset=f"S{n}", equipment="scanner", place=f"P{n % 4}", spare=n == 7)
        for n in range(8)
    )
    at_place = {name: np.zeros(1600, bool) for name in places}
    at_device = {one.asset: np.zeros(1600, bool) for one in devices}
    cases = []
    for number in range(int(rng.integers(5, 60))):
        place, device = f"P{rng.integers(4)}", int(rng.integers(2))
        asset = f"S{int(place[1]) + 4 * device}" if rng.random() < 0.8 else None
        effect = str(rng.choice(["stopped", "slowed", "device", "none", "(unknown)"]))
        outcome = "duplicate" if rng.random() < 0.1 else None
        begin = int(rng.integers(360, 1300))
        # One in eight ends before it began and stays out; one in eight never ended.
        end = begin + int(rng.integers(-20, 140))
        still = rng.random() < 0.125
        cases.append(
            Case(
                **dict.fromkeys(Case._fields)  # type: ignore[arg-type]
                | {"id": f"I{number}", "place": place, "asset": asset, "equipment": "scanner"}
                | {"symptom": "jam", "phase": "voting", "effect": effect, "flags": ""}
                | {"outcome": outcome, "started": _minute(begin)}
                | {"restored": None if still else _minute(end)}
            )
        )
        first, last = hours[place]
        stop = cut_off if still else end
        if effect != "none" and outcome is None and stop > begin:
            inside = slice(max(begin, first), max(min(stop, last), first))
            if effect == "stopped":
                at_place[place][inside] = True
            if asset:
                at_device[asset][inside] = True
    found = time_lost(
        Material(
            election=Election(
                election="E", name="E", date=DAY, time_zone="UTC", opens=time(7), closes=time(20)
            ),
            cases=tuple(cases),
            places=places,
            devices=devices,
            turnout={},
        )
    )
    lost = {name: grid.sum() for name, grid in at_place.items() if grid.any()}
    assert found["places"] == lost
    whole = sum(last - first for first, last in hours.values())
    close(found["share_of_place_time"], sum(lost.values()) / whole)
    scanner = found["devices"]["scanner"]
    deployed = [one for one in devices if not one.spare]
    assert scanner["minutes_lost"] == sum(at_device[one.asset].sum() for one in deployed)
    minutes = sum(hours[str(one.place)][1] - hours[str(one.place)][0] for one in deployed)
    close(scanner["share"], scanner["minutes_lost"] / minutes)
