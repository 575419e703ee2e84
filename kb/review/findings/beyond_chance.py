"""Findings beyond chance: each method's tests, adjusted for all looks of the method together.

What the numbers of the review flag one by one would, over a whole county, flag something by
chance in most elections; a finding is what still stands when that is allowed for (Benjamini
and Hochberg 1995, or the definition's own guard). A group that is too small to test counts as 1
where its size is what the test looks at: to leave it out would be to pick by what was seen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from scipy.special import betainc, gammainc

from kb.incidents.lists import is_misfeed
from kb.incidents.places import Device
from kb.review.findings.finding import LEVEL, Finding, pointer
from kb.review.findings.wording import equipment, many, place, plain, sure
from kb.review.measures.rates import garwood
from kb.review.measures.restore import by_zone, compare
from kb.review.measures.shared import adjusted
from kb.review.rows import UNKNOWN
from kb.review.sections import Review

# Groups with fewer cases than this are too few for a test that takes counts for many.
ENOUGH = 10


def high_places(review: Review) -> Iterator[Finding]:
    """Places with more faults than chance explains, each held against all the others."""
    found = review.compared
    for number, name in enumerate(found.places):
        p = review.high_places[name]
        if p > LEVEL:
            continue
        k, n = int(found.k[number]), float(found.n[number])
        low, high = garwood(k, n)
        others = (float(found.k.sum()) - k) / (float(found.n.sum()) - n)
        yield Finding(
            key=f"high-place:{name}",
            sort="beyond chance",
            title=f"{place(review.material, name)} had more faults than chance explains",
            words=(
                f"{many(k, 'fault')} on {plain(1000 * n)} ballots, and {plain(n * others, 2)} "
                f"expected at the rate of the others: {plain(k / n, 2)} per 1,000 ballots (95 %: "
                f"{plain(low, 2)} to {plain(high, 2)}) beside {plain(others, 2)}."
            ),
            sure=sure(p, many(len(found.places), "place")),
            # Drawn towards the others: a place picked since it was high comes down by itself.
            measure=pointer("shrinkage", "places", name, "ml"),
            rows={"place": name},
            place=name,
        )


def high_zones(review: Review) -> Iterator[Finding]:
    """Zones with more faults than chance explains, allowing for how places differ anyway.

    The sum over a zone's places of the fitted gamma-Poisson has mean sum(e) and variance
    sum(e + e^2 / nu); its upper tail by the negative binomial of the same mean and variance.
    """
    found, lines = review.compared, review.sections["rates"]["by_zone"]
    nu = review.sections["shrinkage"]["ml_nu"]
    zones = np.array([review.material.zone_of(place) for place in found.places])
    named = [zone for zone in lines if zone != UNKNOWN]
    expected = {zone: found.expected[zones == zone] for zone in named}
    chances = []
    for zone in named:
        k, mean = lines[zone]["k"], float(expected[zone].sum())
        extra = float((expected[zone] ** 2).sum() / nu) if nu else 0.0
        size = mean**2 / extra if extra else None
        if k < ENOUGH or len(named) < 2:
            chances.append(1.0)
        else:
            tail = betainc(k, size, 1 - size / (size + mean)) if size else gammainc(k, mean)
            chances.append(float(tail))
    for zone, p in zip(named, adjusted(chances), strict=True):
        if p > LEVEL:
            continue
        line = lines[zone]
        yield Finding(
            key=f"high-zone:{zone}",
            sort="beyond chance",
            title=f"Zone {zone} had more faults than chance explains",
            words=(
                f"{many(line['k'], 'fault')} on {plain(1000 * line['exposure'])} ballots, "
                f"{plain(float(expected[zone].sum()), 2)} expected at the rate of all: "
                f"{plain(line['rate'], 2)} per 1,000 (95 %: {plain(line['low'], 2)} to "
                f"{plain(line['high'], 2)}). A zone whose workers report well looks worse."
            ),
            sure=sure(p, f"{many(len(named), 'zone')} with their unequal places"),
            measure=pointer("rates", "by_zone", zone, "rate"),
            rows={"zone": zone},
        )


def slow_zones(review: Review) -> Iterator[Finding]:
    """Zones in which faults took longer to restore than in all the others."""
    lines = review.sections["restore"]["by_zone"]
    _, tests = compare(by_zone(review.material))
    chances = [
        one.p if one is not None and lines[zone]["n"] >= ENOUGH else 1.0
        for zone, one in tests.items()
    ]
    overall = review.sections["restore"]["overall"]["median"]
    for (zone, test), p in zip(tests.items(), adjusted(chances), strict=True):
        # Fewer restored by each moment than the others let expect: slower.
        if p > LEVEL or test is None or test.excess >= 0:
            continue
        line = lines[zone]
        if line["median"] is None:
            half = f"{line['restored']} were restored before the record ends"
        else:
            upper = plain(line["median_high"]) if line["median_high"] is not None else "no limit"
            half = (
                f"half were over after {plain(line['median'])} minutes (95 %: "
                f"{plain(line['median_low'])} to {upper})"
            )
        whole = f"; in the whole county after {plain(overall)}" if overall is not None else ""
        yield Finding(
            key=f"slow-zone:{zone}",
            sort="beyond chance",
            title=f"Faults took longer to restore in zone {zone}",
            words=f"Of {many(line['n'], 'fault')} {half}{whole}.",
            sure=sure(p, many(len(tests), "zone")),
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
        has = _has(review, attribute, value)
        yield Finding(
            key=f"shared:{name}",
            sort="beyond chance",
            title=(
                f"{equipment(equipment_id).capitalize()} "
                f"{what.get(attribute, f'in zone {value}')} failed more often"
            ),
            words=(
                f"{row['failed_in']} of {having} had a fault, and {row['failed_out']} of the "
                f"other {rest}. What they share may be the cause, or go with it."
            ),
            sure=sure(
                row["p_adjusted"], many(review.sections["enrichment"]["tests"], "comparison")
            ),
            measure=pointer("rates", "per_100_devices", equipment_id, "rate"),
            cases=_of_devices(review, equipment_id, has),
        )


def over_benchmark(review: Review) -> Iterator[Finding]:
    """Scanner models with more misfeeds than one in 500 sheets."""
    models = review.sections["misfeeds"]["models"]
    told = [(name, one["p_above"]) for name, one in models.items() if one["p_above"] is not None]
    of_model = {one.asset: one.model or UNKNOWN for one in review.material.devices}
    for (name, _), p in zip(told, adjusted([p for _, p in told]), strict=True):
        if p > LEVEL:
            continue
        line = models[name]
        yield Finding(
            key=f"misfeeds:{name}",
            sort="beyond chance",
            title=f"Scanners of model {name} misfeed more than one sheet in 500",
            words=(
                f"{many(line['k'], 'misfeed')} on {plain(line['feeds'])} sheets: "
                f"{plain(line['per_1000'], 2)} per 1,000 (95 %: {plain(line['low'], 2)} to "
                f"{plain(line['high'], 2)}). Worth a service check; not a certification finding."
            ),
            sure=sure(p, f"{many(len(told), 'model')} at the benchmark"),
            measure=pointer("misfeeds", "models", name, "per_1000"),
            cases=tuple(
                case.id
                for case in review.material.counted
                if is_misfeed(case.equipment, case.symptom)
                and of_model.get(case.asset or "") == name
            ),
        )


def _has(review: Review, attribute: str, value: str) -> Callable[[Device], bool]:
    """Whether a device has a value of batch, model or zone."""
    if attribute == "zone":
        places = review.material.places
        return lambda device: device.place in places and places[str(device.place)].zone == value
    return lambda device: getattr(device, attribute) == value


def _of_devices(
    review: Review, equipment_id: str, has: Callable[[Device], bool]
) -> tuple[str, ...]:
    """The faults of the deployed devices of a class that have something."""
    assets = {
        one.asset for one in review.material.deployed if one.equipment == equipment_id and has(one)
    }
    return tuple(case.id for case in review.material.faults if case.asset in assets)
