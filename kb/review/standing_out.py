"""Findings beyond chance: each method's tests, adjusted for all looks of the method together.

What the numbers of the review flag one by one would, over a whole county, flag something by
chance in most elections; a finding is what still stands when that is allowed for (Benjamini
and Hochberg 1995, or the definition's own guard).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from scipy.special import bdtr, betainc, gammainc

from kb.review.alarms import alarms, baseline
from kb.review.beforeafter import of_places
from kb.review.compared import compared
from kb.review.finding import LEVEL, Finding, pointer
from kb.review.funnel import gamma_tails, poisson_tails
from kb.review.hotline import LEVEL as SERVICE
from kb.review.rates import FEW, garwood
from kb.review.rows import UNKNOWN
from kb.review.sections import Review
from kb.review.shared import adjusted
from kb.review.shrink import fit
from kb.review.wording import chance, clock, equipment, kind, listed, many, phase, place, plain

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


def at_once(review: Review) -> Iterator[Finding]:
    """The same fault at several places within an hour, by the guard that the day goes by."""
    zone, day = review.material.election.time_zone, review.material.election.date
    told = [(one.election.date, one.cases) for one in review.earlier]
    before = baseline(told, zone, review.material.window_clock)
    for alarm in (
        alarms(review.material.cases, before, zone, day, guarded=True) if review.earlier else ()
    ):
        equipment_id, symptom_id = alarm.kind.split("|", 1)
        shared = review.sections["alarms"]["shared"].get(alarm.kind, {})
        common = [
            name.replace("|", " ") for name, one in shared.items() if one["p_adjusted"] <= LEVEL
        ]
        yield Finding(
            key=f"at-once:{alarm.kind}",
            method="alarms",
            sort="beyond chance",
            title=f"The same fault at {len(alarm.places)} places at once: {kind(alarm.kind)}",
            words=(
                f"Told by {clock(alarm.at, review.material)} within an hour, where "
                f"{plain(alarm.mean, 2)} such reports an hour are usual: "
                f"{listed(list(alarm.places))}."
                + (f" The devices share: {listed(common)}." if common else "")
            ),
            sure="By chance on at most one day in twenty, all looks of the day together.",
            measure=pointer("rates", "by_equipment", equipment_id, "rate"),
            rows={"equipment": equipment_id, "symptom": symptom_id},
        )


def changes(review: Review) -> Iterator[Finding]:
    """Classes whose rate is another than in an earlier election."""
    told = [
        (one, line)
        for one in review.comparisons
        if (line := review.sections["before_after"][one.name])["p"] is not None
        and line["before_k"] + line["after_k"] >= ENOUGH
    ]
    chances = adjusted([line["p"] for _, line in told])
    for (one, line), p in zip(told, chances, strict=True):
        if p > LEVEL:
            continue
        fewer = line["ratio"] is not None and line["ratio"] < 1
        yield Finding(
            key=f"change:{one.name}",
            method="before-after",
            sort="beyond chance",
            title=(
                f"{equipment(one.equipment).capitalize()}: {'fewer' if fewer else 'more'} faults "
                f"than in {review.name_of(one.before)}"
            ),
            words=(
                f"{line['before_k']} on {plain(line['before_exposure'])} then, "
                f"{line['after_k']} on {plain(line['after_exposure'])} now, at the same "
                f"{many(line['places'], 'place')}: {plain(line['ratio'], 2)} times the rate "
                f"(95 %: {plain(line['low'], 2)} to {plain(line['high'], 2)})."
            ),
            sure=f"Chance {chance(p)}, allowing for {many(len(told), 'comparison')}.",
            measure=pointer("rates", "by_equipment", one.equipment, "rate"),
            rows={"equipment": one.equipment},
        )


def group_changes(review: Review) -> Iterator[Finding]:
    """Groups of places (a training class) that changed otherwise than the places outside them.

    Exact test of the four counts given their sums (Fisher's noncentral hypergeometric with the
    odds of the exposures), so that a change all over the county is not put down to the group.
    """
    if not review.earlier:
        return
    # Here and not at the top: it would add a second to the start of every command.
    from scipy.stats import nchypergeom_fisher  # noqa: PLC0415

    groups = sorted({name for one in review.material.places.values() for name in one.groups})
    told: list[tuple[str, str, dict[str, Any], dict[str, Any], float]] = []
    for group in groups:
        inside = {one.id for one in review.material.places.values() if group in one.groups}
        for equipment_id in sorted(review.material.deployed_count):
            ours = of_places(review.material, review.earlier[-1], equipment_id, inside)
            theirs = of_places(
                review.material,
                review.earlier[-1],
                equipment_id,
                review.material.places.keys() - inside,
            )
            k = [ours["before_k"], ours["after_k"], theirs["before_k"], theirs["after_k"]]
            n = [one[f"{when}_exposure"] for one in (ours, theirs) for when in ("before", "after")]
            if min(n) == 0 or k[0] + k[1] < FEW or k[2] + k[3] < FEW:
                continue
            odds = (n[1] / n[0]) / (n[3] / n[2])
            law = nchypergeom_fisher(sum(k), k[1] + k[3], k[0] + k[1], odds)
            p = min(1.0, 2 * min(float(law.cdf(k[1])), float(law.sf(k[1] - 1))))
            told.append((group, equipment_id, ours, theirs, p))
    for (group, equipment_id, ours, theirs, _), p in zip(
        told, adjusted([p for *_, p in told]), strict=True
    ):
        if p > LEVEL:
            continue
        fewer = (
            ours["after_k"] * ours["before_exposure"] < ours["before_k"] * ours["after_exposure"]
        )
        yield Finding(
            key=f"group:{group}|{equipment_id}",
            method="before-after",
            sort="beyond chance",
            title=(
                f"{equipment(equipment_id).capitalize()}: {'fewer' if fewer else 'more'} faults "
                f"at the places of '{group}', and not elsewhere"
            ),
            words=(
                f"At the {many(ours['places'], 'place')} of the group {ours['before_k']} in "
                f"{review.earlier[-1].election.name} and {ours['after_k']} now "
                f"({plain(ours['ratio'], 2)} times the rate); at the other "
                f"{many(theirs['places'], 'place')} {theirs['before_k']} and "
                f"{theirs['after_k']} ({plain(theirs['ratio'], 2)} times)."
            ),
            sure=(
                f"Chance {chance(p)} that the difference is none, allowing for "
                f"{many(len(told), 'comparison')}. Groups are not drawn by lot: something else "
                "may go with them."
            ),
            measure=pointer("rates", "by_equipment", equipment_id, "rate"),
            rows={"equipment": equipment_id},
        )


def short_of_people(review: Review) -> Iterator[Finding]:
    """Half hours in which callers surely waited longer than they should, put together.

    Callers who wait, wait together, so a half hour's calls count as fewer independent ones, by
    the lag-one correlation r: n (1 - r) / (1 + r) (Bayley, G. V. and Hammersley, J. M. 1946, The
    "effective" number of independent observations in an autocorrelated time series, JRSS
    Supplement 8, 184-197; from memory).
    """
    lines = review.sections["hotline"]["half_hours"]
    names = list(lines)
    alike = review.sections["hotline"]["in_time_correlation"]
    chances = []
    for line in lines.values():
        seen, of = line["observed"], line["offered"] * (1 - alike) / (1 + alike)
        chances.append(1.0 if seen is None else float(bdtr(round(seen * of), round(of), SERVICE)))
    surely = set(review.sections["hotline"]["surely_understaffed"])
    short = [
        number
        for number, p in enumerate(adjusted(chances))
        if p <= LEVEL and names[number] in surely
    ]
    for first, last in _runs(short):
        told = [lines[name] for name in names[first : last + 1]]
        offered = sum(one["offered"] for one in told)
        in_time = sum(round((one["observed"] or 0) * one["offered"]) for one in told)
        until = (
            names[last + 1]
            if last + 1 < len(names)
            else clock(review.material.window[1], review.material)
        )
        yield Finding(
            key=f"short-of-people:{names[first]}",
            method="hotline",
            sort="beyond chance",
            title=f"The hotline was short of people from {names[first]} to {until}",
            words=(
                f"{in_time} of {many(offered, 'call')} were answered within 20 seconds; 80 % is "
                f"aimed at. {sum(one['abandoned'] for one in told)} callers gave up. At the usual "
                f"length of a call it took {max(one['seats'] or 0 for one in told)} people at "
                "the phones."
            ),
            sure=f"Chance {chance(max(adjusted(chances)[n] for n in range(first, last + 1)))} "
            "had 80 % been reached, allowing for all half hours of the day.",
            measure=pointer("hotline", "service_level"),
            wanted="up",
        )


def _runs(numbers: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Neighbouring numbers put together: first and last of each run."""
    for number in numbers:
        if number - 1 in numbers:
            continue
        last = number
        while last + 1 in numbers:
            last += 1
        yield number, last


def needs_training(review: Review) -> Iterator[Finding]:
    """Phases and zones with more questions per call than the other zones."""
    lines = review.sections["hotline"]["training"]["by_phase_and_zone"]
    for name, line in lines.items():
        p, ratio = line["p_adjusted"], line["ratio"]
        if p is None or p > LEVEL or line["k"] < FEW or (ratio is not None and ratio <= 1):
            continue
        phase_id, zone = name.split("|", 1)
        articles = list(line["articles"])[:3]
        yield Finding(
            key=f"training:{name}",
            method="training",
            sort="beyond chance",
            title=f"Zone {zone} asked more by phone than others in the phase {phase(phase_id)}",
            words=(
                f"{many(line['k'], 'case')} answered by phone, {plain(line['per_100_calls'], 2)} "
                f"per 100 calls: {plain(line['ratio'], 2)} times the other zones."
                + (f" Most answered by: {listed(articles)}." if articles else "")
            ),
            sure=f"Chance {chance(line['p_adjusted'])}, allowing for {len(lines)} comparisons.",
            measure=pointer("hotline", "training", "by_phase_and_zone", name, "per_100_calls"),
            rows={"zone": zone, "phase": phase_id},
        )
