"""What came back: the same fault of the same device, in earlier elections or on the same day."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any

from kb.review.rows import UNKNOWN, Case, Material

NEAR = timedelta(minutes=30)


def recurrence(material: Material, earlier: Sequence[Material]) -> dict[str, Any]:
    """Asset and symptom, both known, that had a fault now and before; or twice and more now."""
    if not earlier:
        return {}
    now = _faults(material)
    before = [(one.election.id, _faults(one)) for one in earlier]
    across: dict[str, dict[str, int]] = {}
    for key in sorted(now):
        told = {election: count[key] for election, count in before if key in count}
        if told:
            across["|".join(key)] = {"now": now[key]} | told
    return {
        "across_elections": across,
        "same_day": {"|".join(key): count for key, count in sorted(now.items()) if count > 1},
    }


def suspected_duplicates(material: Material) -> list[str]:
    """Pairs `a|b` of counted cases that may be one: same place, device and symptom, near in time.

    Nothing is merged by itself.
    """
    groups: defaultdict[tuple[str, str, str], list[tuple[datetime, str]]] = defaultdict(list)
    for case in material.counted:
        start = case.start
        if case.place and case.asset and case.symptom != UNKNOWN and start:
            groups[case.place, case.asset, case.symptom].append((start, case.id))
    found = []
    for told in groups.values():
        told.sort()
        for number, (at, one) in enumerate(told):
            for later, other in told[number + 1 :]:
                if later - at > NEAR:
                    break
                found.append("|".join(sorted((one, other))))
    return sorted(found)


def _faults(material: Material) -> Counter[tuple[str, str]]:
    return Counter(_keys(material.faults))


def _keys(faults: Iterable[Case]) -> list[tuple[str, str]]:
    return [(case.asset, case.symptom) for case in faults if case.asset and case.symptom != UNKNOWN]
