"""Which kinds of fault make up most of the trouble: by count, and by minutes."""

from __future__ import annotations

from collections import Counter
from typing import Any

from kb.review.measures.spans import lasted
from kb.review.rows import Material


def pareto(material: Material) -> dict[str, list[dict[str, Any]]]:
    """Groups "equipment|symptom", descending, ties by name, with the cumulative percentage.

    Minutes are not clipped; open faults count to the cut-off.
    """
    count: Counter[str] = Counter()
    took: dict[str, float] = {}
    for case in material.faults:
        count[case.kind] += 1
        lasting = lasted(case, material.cut_off)
        if lasting is not None and lasting >= 0:
            took[case.kind] = took.get(case.kind, 0.0) + lasting
    return {"by_count": cumulated(count), "by_minutes": cumulated(took)}


def cumulated(values: Counter[str] | dict[str, float]) -> list[dict[str, Any]]:
    """The values in order with the share, in percent, that they and those before make up."""
    total, so_far, found = sum(values.values()), 0.0, []
    for key, value in sorted(values.items(), key=lambda one: (-one[1], one[0])):
        so_far += value
        percent = 100 * so_far / total if total else 0.0
        found.append({"key": key, "value": value, "cumulative_percent": percent})
    return found
