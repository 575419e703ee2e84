"""Findings on record: what simply happened and asks for an answer. No chance is in them."""

from __future__ import annotations

from collections.abc import Iterator

from kb.review.findings.finding import Finding, pointer
from kb.review.findings.wording import equipment, listed, many, place, plain, symptom
from kb.review.measures.lost import STOPPED, access_cases
from kb.review.measures.sparing import REPLACED
from kb.review.rows import Material
from kb.review.sections import Review

# Of the record itself, beside which no question of chance arises.
AS_RECORDED = "As recorded."
LACKS = {
    "witnesses": "without two witnesses",
    "closing": "not closed again",
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
    needs = " Each needs a written explanation, as county procedure says."
    yield _on_record(
        "custody-gaps",
        f"{many(len(gaps), 'case')} with a custody record that is not whole",
        f"{listed(told)}, of {openings} of a compartment: {listed(where)}."
        + (" So far; some may be under way." if review.so_far else needs),
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
        f"Accessible voting was not available at {many(len(lost), 'place')} for a while",
        f"{plain(sum(lost.values()))} minutes of voting hours together: "
        + listed([f"{place(review.material, one)} {plain(lost[one])} min" for one in longest])
        + ". At least so long: nobody may have asked before.",
        pointer("time_lost", "accessible"),
        cases=tuple(access_cases(review.material, lost)),
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
        f"Voting stopped at {many(len(lost), 'place')} for "
        f"{plain(review.sections['time_lost']['places_total_minutes'])} minutes in all",
        # Of the whole day's hours, so it says nothing before the day is over.
        ("" if review.so_far or share is None else f"{100 * share:.2f} % of all voting hours. ")
        + "The longest: "
        + listed([f"{place(review.material, one)} {plain(lost[one])} min" for one in longest], 4)
        + ".",
        pointer("time_lost", "places_total_minutes"),
        cases=tuple(
            case.id
            for case in review.material.faults
            if case.effect == STOPPED and case.place in lost
        ),
    )


def short_of_spares(review: Review) -> Iterator[Finding]:
    """Classes of which more had to be replaced than spares were in store."""
    classes = {one.asset: one.equipment for one in review.material.devices}
    for name, line in review.sections["spares"].items():
        if not line["short"]:
            continue
        yield _on_record(
            f"spares:{name}",
            f"More {equipment(name)} were out for the day than spares were in store",
            f"{line['needed']} of {line['devices']} had to be replaced; {line['have']} in store. "
            f"If as many fail again, {line['spares_95']} spares are enough on 95 of 100 such "
            f"days, {line['spares_99']} on 99.",
            pointer("spares", name, "needed"),
            cases=tuple(
                case.id
                for case in review.material.faults
                if case.outcome in REPLACED and classes.get(case.asset or "") == name
            ),
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
        f"{many(len(late), 'place')} opened late",
        listed([f"{place(review.material, one)} {plain(late[one])} min" for one in longest]) + ".",
        pointer("incomplete", "late_openings"),
    )


def came_back(review: Review) -> Iterator[Finding]:
    """Devices with the fault they had in an earlier election."""
    across = review.sections["recurrence"].get("across_elections", {})
    if not across:
        return
    # A symptom has no bar in its name; an asset's number may.
    pairs = [tuple(key.rsplit("|", 1)) for key in across]
    devices = len({asset for asset, _ in pairs})
    told = [f"{asset}: {symptom(of)}" for asset, of in pairs]
    yield _on_record(
        "came-back",
        f"{many(devices, 'device')} had the same fault as in an earlier election",
        f"{listed(told)}. Some come back by chance; service these first.",
        pointer("recurrence", "across_elections"),
        cases=tuple(
            case.id for case in review.material.faults if f"{case.asset}|{case.symptom}" in across
        ),
    )


def record_gaps(review: Review) -> Iterator[Finding]:
    """Cases with fields missing or times that cannot be, never ended, or perhaps told twice."""
    lines = review.sections["incomplete"]
    told = []
    if lines["count"]:
        told.append(f"{many(lines['count'], 'case')} with a field missing or a time out of order")
    if lines["open_cases"]:
        ended = "still open" if review.so_far else "never ended"
        told.append(f"{many(len(lines['open_cases']), 'case')} {ended}")
    if review.sections["suspected_duplicates"]:
        pairs = len(review.sections["suspected_duplicates"])
        told.append(f"{many(pairs, 'pair')} that may be one case told twice")
    without = len(lines["places_without_exposure"]) + len(lines["places_with_zero_ballots"])
    if without and not review.so_far:
        told.append(f"{many(without, 'place')} without known ballots, left out of all rates")
    if not told:
        return
    yield _on_record(
        "record-gaps",
        "The record has gaps",
        f"Of {many(len(review.material.counted), 'case')}: {listed(told)}. What is missing is in "
        "no figure that needs it.",
        pointer("incomplete", "count"),
        cases=(*lines["records"], *lines["open_cases"]),
    )


def _named(material: Material, identifier: str | None) -> str:
    return place(material, identifier) if identifier else "place not known"


def _on_record(
    key: str,
    title: str,
    words: str,
    measure: str,
    cases: tuple[str, ...] = (),
) -> Finding:
    return Finding(key, "on record", title, words, AS_RECORDED, measure, cases=cases)
