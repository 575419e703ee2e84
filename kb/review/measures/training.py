"""Training needs: what was asked that a worker could have done alone, by phase and zone.

Counted cases that were fixed by phone or were no fault of equipment, per 100 calls of the zone;
each zone against the others by the exact ratio of rates, Benjamini-Hochberg over all of them.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from typing import Any

from kb.review.measures.ratio import ratio
from kb.review.measures.shared import adjusted
from kb.review.rows import Call, Case, Material
from kb.review.texts.walks import SECOND_CALL

ASKED = frozenset({"fixed-by-phone", "not-equipment"})
PER_CALLS = 100


def training(material: Material) -> dict[str, Any]:
    """By `phase|zone` the cases, per 100 calls, with their articles.

    `called_again`: articles after which a second call came soon from the same place.
    """
    asked = [case for case in material.counted if case.outcome in ASKED and case.zone]
    calls = Counter(
        material.zone_of(call.place)
        for call in material.calls
        if call.place in material.places and call.place
    )
    whole = sum(calls.values())
    groups: defaultdict[tuple[str, str], list[Case]] = defaultdict(list)
    for case in asked:
        groups[case.phase, str(case.zone)].append(case)
    of_phase = Counter(case.phase for case in asked)
    lines: dict[str, dict[str, Any]] = {}
    for (phase, zone), cases in sorted(groups.items()):
        there, others = calls[zone], whole - calls[zone]
        found = ratio(of_phase[phase] - len(cases), others, len(cases), there)
        lines[f"{phase}|{zone}"] = {
            "k": len(cases),
            "calls": there,
            "per_100_calls": PER_CALLS * len(cases) / there if there else None,
            "ratio": found.value,
            "low": found.low,
            "high": found.high,
            "p": found.p,
            "p_adjusted": None,
            "articles": _most(case.article for case in cases if case.article),
        }
    tested = [line for line in lines.values() if line["p"] is not None]
    for line, p in zip(tested, adjusted([line["p"] for line in tested]), strict=True):
        line["p_adjusted"] = p
    return {
        "by_phase_and_zone": lines,
        "articles": _most(case.article for case in asked if case.article),
        "tree_ends": _most(material.ends[case.id] for case in asked if case.id in material.ends),
        "called_again": called_again(asked, material.calls),
    }


def called_again(cases: Sequence[Case], calls: Sequence[Call]) -> dict[str, int]:
    """Articles after whose case another call came from the same place within 30 minutes."""
    by_place: defaultdict[str, list[Call]] = defaultdict(list)
    for call in calls:
        if call.place:
            by_place[call.place].append(call)
    count: Counter[str] = Counter()
    for case in cases:
        end = case.restored or case.reported
        if not (case.article and case.place and end):
            continue
        count[case.article] += any(
            end < call.started <= end + SECOND_CALL and call.incident != case.id
            for call in by_place[case.place]
        )
    return {slug: number for slug, number in count.most_common() if number}


def _most(slugs: Iterable[str]) -> dict[str, int]:
    count = Counter(slugs)
    return dict(sorted(count.items(), key=lambda one: (-one[1], one[0])))
