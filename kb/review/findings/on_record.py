"""Findings on record: what simply happened and asks for an answer. No chance is in them."""

from __future__ import annotations

from collections.abc import Iterator

from kb.review.findings.finding import Finding, pointer
from kb.review.findings.wording import equipment, listed, many, place, plain, symptom
from kb.review.rows import Material
from kb.review.sections import Review

# Of the record itself, beside which no question of chance arises.
AS_RECORDED = "As recorded."
LACKS = {
    "witnesses": "without two witnesses",
    "closing": "never closed again",
    "seal": "without a new seal",
}


def custody_gaps(review: Review) -> Iterator[Finding]:
    """Openings whose custody record is not whole."""
    gaps = review.sections["custody"]["gaps"]
    if not gaps:
        return
    places = {case.id: case.place for case in review.material.cases}
    where = sorted({_named(review.material, places.get(one)) for one in gaps})
    openings = many(review.sections["custody"]["openings"], "opening")
    counts = {words: sum(name in one for one in gaps.values()) for name, words in LACKS.items()}
    told = [f"{count} {words}" for words, count in counts.items() if count]
    yield _on_record(
        "custody-gaps",
        "custody",
        f"{many(len(gaps), 'case')} with a custody record that is not whole",
        f"{listed(told)}, of {openings} of a compartment: {listed(where)}. Each needs a written "
        "explanation, as county procedure says.",
        pointer("custody", "gaps"),
        cases=tuple(gaps),
    )


def access_lost(review: Review) -> Iterator[Finding]:
    """Places at which accessible voting was not available for some of the day."""
    lost = review.sections["time_lost"]["accessible"]
    if not lost:
        return
    longest = sorted(lost, key=lambda name: (-lost[name], name))
    yield _on_record(
        "access-lost",
        "time-lost",
        f"Accessible voting was not available at {many(len(lost), 'place')} for a while",
        f"{plain(sum(lost.values()))} minutes of voting hours together: "
        + listed([f"{place(review.material, one)} {plain(lost[one])} min" for one in longest])
        + ". At least so long: nobody may have asked before.",
        pointer("time_lost", "accessible"),
        rows={"equipment": "bmd"},
    )


def voting_stopped(review: Review) -> Iterator[Finding]:
    """Places at which voting had stopped."""
    lost = review.sections["time_lost"]["places"]
    if not lost:
        return
    longest = sorted(lost, key=lambda name: (-lost[name], name))
    share = review.sections["time_lost"]["share_of_place_time"]
    yield _on_record(
        "voting-stopped",
        "time-lost",
        f"Voting stopped at {many(len(lost), 'place')} for "
        f"{plain(review.sections['time_lost']['places_total_minutes'])} minutes in all",
        f"{share:.2%} of all voting hours. The longest: "
        + listed([f"{place(review.material, one)} {plain(lost[one])} min" for one in longest], 4)
        + ".",
        pointer("time_lost", "places_total_minutes"),
        rows={"effect": "stopped"},
    )


def short_of_spares(review: Review) -> Iterator[Finding]:
    """Classes of which more had to be replaced than spares were in store."""
    for name, line in review.sections["spares"].items():
        if not line["short"]:
            continue
        yield _on_record(
            f"spares:{name}",
            "spares",
            f"More {equipment(name)} were out for the day than spares were in store",
            f"{line['needed']} of {line['devices']} had to be replaced; {line['have']} in store. "
            f"If as many fail again, {line['spares_95']} spares are enough on 95 of 100 such "
            f"days, {line['spares_99']} on 99.",
            pointer("spares", name, "needed"),
            rows={"equipment": name},
        )


def late_openings(review: Review) -> Iterator[Finding]:
    """Places that opened late."""
    late = review.sections["incomplete"]["late_openings"]
    # A clock read to the minute: what is less is no late opening.
    late = {name: minutes for name, minutes in late.items() if minutes >= 1}
    if not late:
        return
    longest = sorted(late, key=lambda name: (-late[name], name))
    yield _on_record(
        "late-openings",
        "record",
        f"{many(len(late), 'place')} opened late",
        listed([f"{place(review.material, one)} {plain(late[one])} min" for one in longest]) + ".",
        pointer("incomplete", "late_openings"),
        rows={"phase": "opening"},
    )


def came_back(review: Review) -> Iterator[Finding]:
    """Devices with the fault they had in an earlier election."""
    across = review.sections["recurrence"].get("across_elections", {})
    if not across:
        return
    devices = len({key.split("|")[0] for key in across})
    told = [f"{key.split('|')[0]}: {symptom(key.split('|')[1])}" for key in across]
    yield _on_record(
        "came-back",
        "recurrence",
        f"{many(devices, 'device')} had the same fault as in an earlier election",
        f"{listed(told)}. Some come back by chance; service these first.",
        pointer("recurrence", "across_elections"),
    )


def record_gaps(review: Review) -> Iterator[Finding]:
    """Cases with fields missing or times that cannot be, never ended, or perhaps told twice."""
    lines = review.sections["incomplete"]
    told = []
    if lines["count"]:
        told.append(f"{many(lines['count'], 'case')} with a field missing or a time out of order")
    if lines["open_cases"]:
        told.append(f"{many(len(lines['open_cases']), 'case')} never ended")
    if review.sections["suspected_duplicates"]:
        pairs = len(review.sections["suspected_duplicates"])
        told.append(f"{many(pairs, 'pair')} that may be one case told twice")
    without = len(lines["places_without_exposure"]) + len(lines["places_with_zero_ballots"])
    if without:
        told.append(f"{many(without, 'place')} without known ballots, left out of all rates")
    if not told:
        return
    yield _on_record(
        "record-gaps",
        "record",
        "The record has gaps",
        f"Of {many(len(review.material.counted), 'case')}: {listed(told)}. What is missing is in "
        "no figure that needs it.",
        pointer("incomplete", "count"),
        cases=(*lines["records"], *lines["open_cases"]),
    )


def _named(material: Material, identifier: str | None) -> str:
    return place(material, identifier) if identifier else "place not known"


def _on_record(  # noqa: PLR0913 - the parts of a finding
    key: str,
    method: str,
    title: str,
    words: str,
    measure: str,
    rows: dict[str, str] | None = None,
    cases: tuple[str, ...] = (),
) -> Finding:
    filter_ = rows or {}
    return Finding(key, method, "on record", title, words, AS_RECORDED, measure, filter_, cases)
