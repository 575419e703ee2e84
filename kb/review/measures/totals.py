"""How many rows, cases and faults there are, by equipment, phase and effect."""

from __future__ import annotations

from collections import Counter
from typing import Any

from kb.review.rows import Material


def totals(material: Material) -> dict[str, Any]:
    """Counts of counted cases; rows, marked duplicates and faults beside them."""
    counted = material.counted
    pairs = Counter((case.equipment, case.effect) for case in counted)
    return {
        "rows": len(material.cases),
        "counted": len(counted),
        "duplicates": len(material.cases) - len(counted),
        "faults": len(material.faults),
        "by_equipment": _summed(pairs, 0),
        "by_phase": dict(sorted(Counter(case.phase for case in counted).items())),
        "by_effect": _summed(pairs, 1),
        "by_equipment_and_effect": {"|".join(pair): pairs[pair] for pair in sorted(pairs)},
    }


def _summed(pairs: Counter[tuple[str, str]], part: int) -> dict[str, int]:
    found: Counter[str] = Counter()
    for pair, number in pairs.items():
        found[pair[part]] += number
    return dict(sorted(found.items()))
