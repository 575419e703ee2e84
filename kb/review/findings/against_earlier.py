"""Findings beyond chance that hold this election against the earlier ones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from kb.review.day.alarms import HOUR, Alarm, alarms, baseline
from kb.review.findings.beyond_chance import ENOUGH
from kb.review.findings.finding import LEVEL, Finding, pointer
from kb.review.findings.wording import clock, equipment, kind, listed, many, plain, sure, times
from kb.review.measures.beforeafter import of_places
from kb.review.measures.rates import FEW
from kb.review.measures.shared import adjusted
from kb.review.sections import Review


def at_once(review: Review) -> Iterator[Finding]:
    """The same fault at several places within an hour, by the guard that the day goes by."""
    material = review.material
    zone, day = material.election.time_zone, material.election.date
    told = [(one.election.date, one.cases) for one in review.earlier]
    before = baseline(told, zone, material.window_clock)
    for alarm in alarms(material.cases, before, zone, day, guarded=True) if told else ():
        equipment_id = alarm.kind.split("|", 1)[0]
        shared = review.sections["alarms"]["shared"].get(alarm.kind, {})
        common = [
            name.replace("|", " ") for name, one in shared.items() if one["p_adjusted"] <= LEVEL
        ]
        yield Finding(
            key=f"at-once:{alarm.kind}",
            sort="beyond chance",
            title=f"The same fault at {len(alarm.places)} places at once: {kind(alarm.kind)}",
            words=(
                f"Told by {clock(alarm.at, material)} within an hour, where "
                f"{plain(alarm.mean, 2)} such reports an hour are usual: "
                f"{listed(list(alarm.places))}."
                + (f" The devices share: {listed(common)}." if common else "")
            ),
            sure="By chance on at most one day in twenty, all looks of the day together.",
            measure=pointer("rates", "by_equipment", equipment_id, "rate"),
            cases=_of_alarm(review, alarm),
        )


def _of_alarm(review: Review, alarm: Alarm) -> tuple[str, ...]:
    """The reports of an alarm's hour, and those that followed within the next one."""
    return tuple(
        case.id
        for case in review.material.faults
        if case.kind == alarm.kind
        and case.reported is not None
        and alarm.at - HOUR < case.reported <= alarm.at + HOUR
    )


def changes(review: Review) -> Iterator[Finding]:
    """Classes whose rate is another than in an earlier election."""
    # The test takes the two counts together as given, so to ask for enough of them picks nothing.
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
            sort="beyond chance",
            title=(
                f"{equipment(one.equipment).capitalize()}: {'fewer' if fewer else 'more'} faults "
                f"than in {review.name_of(one.before)}"
            ),
            words=(
                f"{line['before_k']} on {plain(line['before_exposure'])} then, "
                f"{line['after_k']} on {plain(line['after_exposure'])} now, at the same "
                f"{many(line['places'], 'place')}: "
                f"{times(line['ratio'], line['low'], line['high'])}."
            ),
            sure=sure(p, many(len(told), "comparison")),
            measure=pointer("rates", "by_equipment", one.equipment, "rate"),
            rows={"equipment": one.equipment},
        )


@dataclass(frozen=True)
class _Group:
    """A group of places and a class: what it had, and what the places outside it had."""

    name: str
    places: frozenset[str]
    equipment: str
    ours: Mapping[str, Any]
    theirs: Mapping[str, Any]

    @property
    def counts(self) -> tuple[int, int, int, int]:
        """Before and after, of the group and of the others."""
        return (
            self.ours["before_k"], self.ours["after_k"],
            self.theirs["before_k"], self.theirs["after_k"],
        )  # fmt: skip

    @property
    def odds(self) -> float:
        """How the exposures alone would share the faults out; 0 where one is missing."""
        n = [of[f"{when}_exposure"] for of in (self.ours, self.theirs) for when in _WHEN]
        return (n[1] / n[0]) / (n[3] / n[2]) if min(n) else 0.0

    @property
    def enough(self) -> bool:
        """Whether there are faults enough inside and outside to compare."""
        k = self.counts
        return self.odds > 0 and min(k[0] + k[1], k[2] + k[3]) >= FEW

    @property
    def better(self) -> bool:
        """Whether the group's change is for the better beside that of the others."""
        k = self.counts
        return k[1] * k[2] < k[0] * k[3] * self.odds


_WHEN = ("before", "after")


def group_changes(review: Review) -> Iterator[Finding]:
    """Groups of places (a training class) that changed otherwise than the places outside them.

    Exact test of the four counts given their sums (Fisher's noncentral hypergeometric with the
    odds of the exposures), so that a change all over the county is not put down to the group.
    """
    # Likewise: the sums are given, so too few of them are left out without picking.
    groups = [one for one in _groups(review) if one.enough]
    for group, p in zip(groups, adjusted([_chance(one) for one in groups]), strict=True):
        if p > LEVEL:
            continue
        ours, theirs, last = group.ours, group.theirs, review.earlier[-1].election.name
        yield Finding(
            key=f"group:{group.name}|{group.equipment}",
            sort="beyond chance",
            title=(
                f"{equipment(group.equipment).capitalize()} did "
                f"{'better' if group.better else 'worse'} since {last} at the places of "
                f"'{group.name}' than elsewhere"
            ),
            words=(
                f"At the {many(ours['places'], 'place')} of the group "
                f"{many(ours['before_k'], 'fault')} then and {ours['after_k']} now: "
                f"{times(ours['ratio'], ours['low'], ours['high'])}. At the other "
                f"{many(theirs['places'], 'place')} {theirs['before_k']} and "
                f"{theirs['after_k']}: {times(theirs['ratio'], theirs['low'], theirs['high'])}."
            ),
            sure=(
                f"{sure(p, many(len(groups), 'comparison'))} Groups are not drawn by lot: "
                "something else may go with them."
            ),
            measure=pointer("rates", "by_equipment", group.equipment, "rate"),
            cases=tuple(
                case.id
                for case in review.material.faults
                if case.equipment == group.equipment and case.place in group.places
            ),
        )


def _groups(review: Review) -> Iterator[_Group]:
    material = review.material
    names = sorted({name for one in material.places.values() for name in one.groups})
    for name in names if review.earlier else ():
        inside = frozenset(one.id for one in material.places.values() if name in one.groups)
        outside = material.places.keys() - inside
        for class_ in sorted(material.deployed_count):
            ours = of_places(material, review.earlier[-1], class_, inside)
            theirs = of_places(material, review.earlier[-1], class_, outside)
            yield _Group(name, inside, class_, ours, theirs)


def _chance(group: _Group) -> float:
    """Two-sided, the doubled smaller tail."""
    k = group.counts
    # Here and not at the top: it would add a second to the start of every command.
    from scipy.stats import nchypergeom_fisher  # noqa: PLC0415

    law = nchypergeom_fisher(sum(k), k[1] + k[3], k[0] + k[1], group.odds)
    return min(1.0, 2 * min(float(law.cdf(k[1])), float(law.sf(k[1] - 1))))
