"""The day's alarms replayed: when the same fault at several places would first have been told.

The definition as it stands: every report is looked at by itself (`alarms.py` says why the day
itself asks for more).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kb.base.clock import format_instant
from kb.review.day.alarms import alarms, baseline
from kb.review.measures.shared import of_kind
from kb.review.rows import Material


def replayed(material: Material, earlier: Sequence[Material]) -> dict[str, Any]:
    """The first alarm of each kind, in order, and what the devices of it share."""
    if not earlier:
        return {}
    zone = material.election.time_zone
    before = baseline(
        [(one.election.date, one.cases) for one in earlier], zone, material.window_clock
    )
    found = alarms(material.cases, before, zone, material.election.date)
    return {
        "first": {
            one.kind: {
                "at": format_instant(one.at),
                "places": len(one.places),
                "mean_per_hour": one.mean,
                "p": one.chance,
                "which": list(one.places),
            }
            for one in found
        },
        "order": [one.kind for one in found],
        "shared": {one.kind: of_kind(material, *one.kind.split("|", 1)) for one in found},
    }
