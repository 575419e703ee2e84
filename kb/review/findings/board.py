"""What a manager reads first: everything that stands out in an election, and what does not."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from kb.review.findings import against_earlier, beyond_chance, by_phone, on_record
from kb.review.findings.finding import Finding
from kb.review.findings.wording import listed, many, plain
from kb.review.measures.rates import FEW
from kb.review.sections import Review

# So many of the highest raw rates are looked at for small places.
HIGHEST = 5


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
    """What was looked at and does not stand out, or could not be compared: method and words."""
    spoken = {one.method for one in found if one.sort == "beyond chance"}
    told = [(method, words) for method, words in _calm(review) if method not in spoken]
    if _small_are_highest(review):
        words = (
            f"The highest raw rates are those of small places with fewer than {FEW} faults each: "
            "too few to say."
        )
        told.insert(0, ("funnel", words))
    return told


def _calm(review: Review) -> Iterator[tuple[str, str]]:
    """For each method with tests what is said where nothing stands out."""
    sections = review.sections
    places, zones = len(sections["funnel"]["expected"]), len(sections["rates"]["by_zone"])
    if places > 1:
        yield "funnel", f"No place has more faults than chance explains ({places} places)."
    else:
        yield "funnel", "Places cannot be compared: no ballots are known."
    if places > 1 and zones > 1:
        yield "rates", f"No zone has more faults than chance explains ({zones} zones)."
    compared = len(sections["restore"]["logrank_zone_against_rest"])
    if compared > 1:
        yield "restore", f"No zone is slower to restore, beyond chance ({compared} zones)."
    else:
        yield "restore", "Times to restore are not compared: there are not two zones with faults."
    tests = sections["enrichment"]["tests"]
    yield (
        "shared",
        f"No batch, model or zone fails more often, beyond chance ({many(tests, 'comparison')})."
        if tests
        else "Nothing that devices share could be compared: too few of them.",
    )
    yield "misfeeds", _misfeeds(sections["misfeeds"])
    yield "alarms", _alarms(review)
    if review.comparisons:
        yield "before-after", "No class of equipment changed beyond chance."
    yield (
        "hotline",
        f"At no time were callers surely kept waiting too long "
        f"({many(sections['hotline']['offered'], 'call')})."
        if sections["hotline"]["offered"]
        else "No calls are known; import the telephone list.",
    )
    if sections["hotline"]["training"]["by_phase_and_zone"]:
        yield "training", "No zone asked more by phone than others, beyond chance."


def _misfeeds(section: dict[str, Any]) -> str:
    sheets = section["sheets"]
    if not sheets:
        return "No sheets are known, so misfeeds cannot be held against the benchmark."
    perhaps = [name for name, one in section["models"].items() if one["flagged"]]
    more = f" Worth a look, not sure: {listed(perhaps)}." if perhaps else ""
    return f"No scanner model is surely above one misfeed in 500 ({plain(sheets)} sheets).{more}"


def _alarms(review: Review) -> str:
    if not review.earlier:
        return "The same fault at once cannot be judged without an earlier election."
    return "No fault showed up at several places at once more than usual."


def _small_are_highest(review: Review) -> bool:
    """Whether places with too few faults to say anything have the highest raw rates."""
    places = review.sections["shrinkage"]["places"]
    first = review.sections["shrinkage"]["top10_raw"][:HIGHEST]
    return any(0 < places[name]["k"] < FEW for name in first)
