"""What a manager reads first: everything that stands out in an election, and what does not."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kb.review.findings import against_earlier, beyond_chance, by_phone, on_record
from kb.review.findings.finding import Finding
from kb.review.findings.wording import listed, many, plain
from kb.review.measures.rates import FEW
from kb.review.sections import Review


def findings(review: Review) -> list[Finding]:
    """All findings: custody and voters first, then what is beyond chance, then the record."""
    return [
        *on_record.custody_gaps(review),
        *on_record.access_lost(review),
        *on_record.voting_stopped(review),
        *against_earlier.at_once(review),
        *beyond_chance.high_places(review),
        *beyond_chance.high_zones(review),
        *beyond_chance.slow_zones(review),
        *beyond_chance.shared_attributes(review),
        *beyond_chance.over_benchmark(review),
        *against_earlier.changes(review),
        *against_earlier.group_changes(review),
        *by_phone.short_of_people(review),
        *on_record.short_of_spares(review),
        *by_phone.needs_training(review),
        *on_record.late_openings(review),
        *on_record.came_back(review),
        *on_record.record_gaps(review),
    ]


def quiet(review: Review, found: Sequence[Finding]) -> list[tuple[str, str]]:
    """What was looked at and does not stand out: the method, and what can be said of it."""
    spoken = {one.method for one in found if one.sort == "beyond chance"}
    sections = review.sections
    told: list[tuple[str, str]] = []
    if small := _few(sections):
        raw = f"The highest raw rates ({listed(small)}) rest on fewer than {FEW} faults each"
        told.append(("funnel", f"{raw}: too few to say."))
    if not review.sections["funnel"]["expected"]:
        told.append(("funnel", "No ballots are known, so places cannot be compared."))
    elif "funnel" not in spoken:
        told.append(("funnel", "No place has more faults than chance explains."))
    if "restore" not in spoken:
        n = review.sections["restore"]["overall"]["n"]
        told.append(
            ("restore", f"No zone is slower than the others beyond chance ({many(n, 'fault')}).")
        )
    if "shared" not in spoken:
        tests = many(sections["enrichment"]["tests"], "comparison")
        told.append(
            ("shared", f"No batch, model or zone fails more often beyond chance ({tests}).")
        )
    if "misfeeds" not in spoken:
        sheets = sections["misfeeds"]["sheets"]
        words = (
            f"No scanner model is above one misfeed in 500 ({plain(sheets)} sheets)."
            if sheets
            else "No sheets are known, so misfeeds cannot be held against the benchmark."
        )
        told.append(("misfeeds", words))
    if "hotline" not in spoken:
        offered = review.sections["hotline"]["offered"]
        words = (
            f"At no time were callers surely kept waiting too long ({many(offered, 'call')})."
            if offered
            else "No calls are known; import the telephone list."
        )
        told.append(("hotline", words))
    return told


def _few(sections: dict[str, Any]) -> list[str]:
    """Among the five highest raw rates, the places with too few faults to say anything."""
    places = sections["shrinkage"]["places"]
    return [name for name in sections["shrinkage"]["top10_raw"][:5] if 0 < places[name]["k"] < FEW]
