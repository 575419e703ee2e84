"""Findings beyond chance: each method's tests, adjusted for all looks of the method together.

What the numbers of the review flag one by one would, over a whole county, flag something by
chance in most elections; a finding is what still stands when that is allowed for (Benjamini
and Hochberg 1995, or the definition's own guard).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from scipy.special import betainc, gammainc

from kb.review.findings.finding import LEVEL, Finding, pointer
from kb.review.findings.wording import (
    chance,
    equipment,
    many,
    place,
    plain,
)
from kb.review.measures.compared import compared
from kb.review.measures.funnel import gamma_tails, poisson_tails
from kb.review.measures.rates import FEW, garwood
from kb.review.measures.shared import adjusted
from kb.review.measures.shrink import fit
from kb.review.rows import UNKNOWN
from kb.review.sections import Review

# Groups with fewer cases than this are too few to test by the log-rank statistic.
ENOUGH = 10


def high_places(review: Review) -> Iterator[Finding]:
    """Places with more faults than chance explains, each held against all the others.

    The gamma-Poisson of the other places alone, so that a place does not widen its own limits.
    """
    found = compared(review.material)
    tails, _ = poisson_tails(found.k, found.expected)
    chances = np.ones(len(found.places))
    for number in map(int, np.flatnonzero((tails <= LEVEL) & (found.k >= FEW))):
        others = np.arange(len(found.places)) != number
        k, n = found.k[others], found.n[others]
        gamma = fit(k, n)
        centre = float(k.sum() / n.sum())
        one = slice(number, number + 1)
        chances[number] = gamma_tails(found.k[one], found.n[one], gamma, centre)[0][0]
    for number, p in enumerate(adjusted(list(chances))):
        if p > LEVEL:
            continue
        name = found.places[number]
        k, n = int(found.k[number]), float(found.n[number])
        low, high = garwood(k, n)
        others = (float(found.k.sum()) - k) / (float(found.n.sum()) - n)
        yield Finding(
            key=f"high-place:{name}",
            method="funnel",
            sort="beyond chance",
            title=f"{place(review.material, name)} had more faults than chance explains",
            words=(
                f"{many(k, 'fault')} on {plain(1000 * n)} ballots, and {plain(n * others, 2)} "
                f"expected at the rate of the others: {plain(k / n, 2)} per 1,000 ballots (95 %: "
                f"{plain(low, 2)} to {plain(high, 2)}) beside {plain(others, 2)}."
            ),
            sure=f"Chance {chance(p)}, allowing for {len(found.places)} places looked at.",
            measure=pointer("shrinkage", "places", name, "raw"),
            rows={"place": name},
            place=name,
        )


def high_zones(review: Review) -> Iterator[Finding]:
    """Zones with more faults than chance explains, allowing for how places differ anyway.

    The sum over a zone's places of the fitted gamma-Poisson has mean sum(e) and variance
    sum(e + e^2 / nu); its upper tail by the negative binomial of the same mean and variance.
    """
    found, lines = compared(review.material), review.sections["rates"]["by_zone"]
    nu = review.sections["shrinkage"]["ml_nu"]
    zones = np.array([review.material.zone_of(place) for place in found.places])
    told: list[tuple[str, float, float]] = []
    for zone, line in lines.items():
        if line["k"] < ENOUGH or zone == UNKNOWN or len(lines) < 2:
            continue
        expected = found.expected[zones == zone]
        mean, extra = float(expected.sum()), float((expected**2).sum() / nu) if nu else 0.0
        size = mean**2 / extra if extra else None
        tail = betainc(line["k"], size, 1 - size / (size + mean)) if size else None
        told.append((zone, mean, float(gammainc(line["k"], mean) if tail is None else tail)))
    for (zone, mean, _), p in zip(told, adjusted([p for *_, p in told]), strict=True):
        if p > LEVEL:
            continue
        line = lines[zone]
        yield Finding(
            key=f"high-zone:{zone}",
            method="rates",
            sort="beyond chance",
            title=f"Zone {zone} had more faults than chance explains",
            words=(
                f"{many(line['k'], 'fault')} on {plain(1000 * line['exposure'])} ballots, "
                f"{plain(mean, 2)} expected at the rate of all: {plain(line['rate'], 2)} per 1,000 "
                f"(95 %: {plain(line['low'], 2)} to {plain(line['high'], 2)}). A zone whose "
                "workers report well looks worse."
            ),
            sure=f"Chance {chance(p)}, allowing for {len(told)} zones and for unequal places.",
            measure=pointer("rates", "by_zone", zone, "rate"),
            rows={"zone": zone},
        )


def slow_zones(review: Review) -> Iterator[Finding]:
    """Zones in which faults took longer to restore than in all the others."""
    lines, tests = (
        review.sections["restore"]["by_zone"],
        review.sections["restore"]["logrank_zone_against_rest"],
    )
    told = [
        (zone, one["p"])
        for zone, one in tests.items()
        if one["p"] is not None and lines[zone]["restored"] >= ENOUGH
    ]
    overall = review.sections["restore"]["overall"]["median"]
    for (zone, _), p in zip(told, adjusted([p for _, p in told]), strict=True):
        line = lines[zone]
        median = line["median"]
        if p > LEVEL or (median is not None and overall is not None and median <= overall):
            continue
        half = f"half were over after {plain(median)} minutes" if median else "most stayed open"
        yield Finding(
            key=f"slow-zone:{zone}",
            method="restore",
            sort="beyond chance",
            title=f"Faults took longer to restore in zone {zone}",
            words=(
                f"Of {many(line['n'], 'fault')} {half} (95 %: {plain(line['median_low'])} to "
                f"{plain(line['median_high'])}); in the whole county after {plain(overall)}."
            ),
            sure=f"Chance {chance(p)} (log-rank), allowing for {len(told)} zones.",
            measure=pointer("restore", "by_zone", zone, "median"),
            rows={"zone": zone},
        )


def shared_attributes(review: Review) -> Iterator[Finding]:
    """Batches, models and zones whose devices failed more often than the rest of the class."""
    for name, row in review.sections["enrichment"]["rows"].items():
        if row["p_adjusted"] > LEVEL:
            continue
        equipment_id, attribute, value = name.split("|", 2)
        having, rest = row["failed_in"] + row["ok_in"], row["failed_out"] + row["ok_out"]
        what = {"batch": f"of batch {value}", "model": f"of model {value}"}
        yield Finding(
            key=f"shared:{name}",
            method="shared",
            sort="beyond chance",
            title=(
                f"{equipment(equipment_id).capitalize()} "
                f"{what.get(attribute, f'in zone {value}')} failed more often"
            ),
            words=(
                f"{row['failed_in']} of {having} had a fault, and {row['failed_out']} of the "
                f"other {rest}. What they share may be the cause, or go with it."
            ),
            sure=(
                f"Chance {chance(row['p_adjusted'])}, allowing for "
                f"{review.sections['enrichment']['tests']} comparisons."
            ),
            measure=pointer("rates", "per_100_devices", equipment_id, "rate"),
            rows={"equipment": equipment_id} | ({"zone": value} if attribute == "zone" else {}),
        )


def over_benchmark(review: Review) -> Iterator[Finding]:
    """Scanner models with more misfeeds than one in 500 sheets."""
    models = review.sections["misfeeds"]["models"]
    told = [(name, one["p_above"]) for name, one in models.items() if one["p_above"] is not None]
    for (name, _), p in zip(told, adjusted([p for _, p in told]), strict=True):
        if p > LEVEL:
            continue
        line = models[name]
        yield Finding(
            key=f"misfeeds:{name}",
            method="misfeeds",
            sort="beyond chance",
            title=f"Scanners of model {name} misfeed more than one sheet in 500",
            words=(
                f"{many(line['k'], 'misfeed')} on {plain(line['feeds'])} sheets: "
                f"{plain(line['per_1000'], 2)} per 1,000 (95 %: {plain(line['low'], 2)} to "
                f"{plain(line['high'], 2)}). Worth a service check; not a certification finding."
            ),
            sure=f"Chance {chance(p)} at the benchmark, allowing for {many(len(told), 'model')}.",
            measure=pointer("misfeeds", "models", name, "per_1000"),
            rows={"equipment": "scanner"},
        )
