"""Custody gaps: openings without two witnesses, a closing, or a seal put on after it."""

from __future__ import annotations

from typing import Any

from kb.review.rows import Material

ORDER = ("witnesses", "closing", "seal")


def custody(material: Material) -> dict[str, Any]:
    """How many openings the record tells of, and what each case's lack."""
    openings = material.openings
    lacking = {
        case: {lack for opened in of_case for lack in opened.lacks}
        for case, of_case in sorted(openings.items())
    }
    return {
        "openings": sum(map(len, openings.values())),
        "gaps": {
            case: [lack for lack in ORDER if lack in lacks]
            for case, lacks in lacking.items()
            if lacks
        },
    }
