"""Findings beyond chance that hold this election against the earlier ones."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from kb.review.day.alarms import alarms, baseline
from kb.review.findings.beyond_chance import ENOUGH
from kb.review.findings.finding import LEVEL, Finding, pointer
from kb.review.findings.wording import (
    chance,
    clock,
    equipment,
    kind,
    listed,
    many,
    plain,
)
from kb.review.measures.beforeafter import of_places
from kb.review.measures.rates import FEW
from kb.review.measures.shared import adjusted
from kb.review.sections import Review


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
