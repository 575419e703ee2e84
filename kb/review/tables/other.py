"""The tables of the other methods: what is shared, alarms, change, hotline, spares, the record."""

from __future__ import annotations

from collections.abc import Iterator

from kb.review.findings import wording
from kb.review.measures.beforeafter import Comparison
from kb.review.sections import Review
from kb.review.tables.table import LIMITS, Column, Table, of_objects, table

TWO_BY_TWO = (
    Column("failed_in", "Failed, with it", "count"),
    Column("ok_in", "Sound, with it", "count"),
    Column("failed_out", "Failed, others", "count"),
    Column("ok_out", "Sound, others", "count"),
    Column("p", "Chance"),
    Column("p_adjusted", "Adjusted"),
)


def misfeeds(review: Review) -> Iterator[Table]:
    """Each scanner model against one in 500."""
    told = review.sections["misfeeds"]
    yield of_objects(
        "misfeeds",
        f"{told['total']} misfeeds on {wording.plain(told['sheets'])} sheets in all; "
        f"{len(told['without_asset'])} without a device are in no model",
        (
            Column("model", "Model", "text"),
            Column("k", "Misfeeds", "count"),
            Column("feeds", "Sheets", "count"),
            Column("per_1000", "Per 1,000 sheets"),
            *LIMITS,
            Column("p_above", "Chance of so many at 2 per 1,000"),
            Column("flagged", "Above the benchmark", "yes"),
        ),
        told["models"],
    )


def shared(review: Review) -> Iterator[Table]:
    """What failing devices have in common."""
    told = review.sections["enrichment"]
    yield table(
        "shared",
        f"Values with an adjusted chance up to 25 %, of {told['tests']} that were tested",
        (
            Column("equipment", "Equipment", "text"),
            Column("attribute", "What", "text"),
            Column("value", "Value", "text"),
            *TWO_BY_TWO,
        ),
        [
            (
                wording.equipment(name.split("|")[0]),
                *name.split("|", 2)[1:],
                *(row[column.name] for column in TWO_BY_TWO),
            )
            for name, row in told["rows"].items()
        ],
    )


def alarms(review: Review) -> Iterator[Table]:
    """The first alarm of each kind."""
    told = review.sections["alarms"]
    yield table(
        "alarms",
        "Every report looked at by itself, so one or the other comes by chance",
        (
            Column("kind", "Equipment and symptom", "text"),
            Column("at", "Alarm at (UTC)", "text"),
            Column("places", "Places in the hour", "count"),
            Column("mean", "Usual an hour"),
            Column("p", "Chance"),
            Column("which", "Which", "text"),
            Column("shared", "Shared by its devices", "text"),
        ),
        [
            (
                wording.kind(kind),
                told["first"][kind]["at"],
                told["first"][kind]["places"],
                told["first"][kind]["mean_per_hour"],
                told["first"][kind]["p"],
                " ".join(told["first"][kind]["which"]),
                ", ".join(
                    name.replace("|", " ")
                    for name, row in told["shared"][kind].items()
                    if row["p_adjusted"] <= 0.05
                ),
            )
            for kind in told.get("order", ())
        ],
    )


def before_after(review: Review) -> Iterator[Table]:
    """Each class in this election and the one before."""
    told = review.sections["before_after"]
    names = sorted({review.name_of(one.before) for one in review.comparisons})
    columns = (
        Column("places", "Places", "count"),
        Column("before_k", "Faults then", "count"),
        Column("before_exposure", "Exposure then", "count"),
        Column("after_k", "Faults now", "count"),
        Column("after_exposure", "Exposure now", "count"),
        Column("ratio", "Rate, times"),
        *LIMITS,
        Column("p", "Chance"),
        Column("p_central", "Chance, doubled tail"),
    )
    yield table(
        "before-after",
        f"At the same places, against {', '.join(names) or 'no earlier election'}; exposure: "
        "check-ins for poll books, else ballots",
        (Column("equipment", "Equipment", "text"), *columns),
        [
            (said(one), *(told[one.name][column.name] for column in columns))
            for one in review.comparisons
        ],
    )


def said(one: Comparison) -> str:
    """A comparison in words: its class, and its name where it has one of its own."""
    plain = wording.equipment(one.equipment)
    return plain if one.name == f"{one.equipment}|all" else f"{one.name} ({plain})"


def hotline(review: Review) -> Iterator[Table]:
    """Calls and seats by half hour."""
    told = review.sections["hotline"]
    short, surely = set(told["understaffed"]), set(told["surely_understaffed"])
    yield of_objects(
        "hotline-half-hours",
        f"{told['offered']} calls, {told['abandoned']} given up; a call took "
        f"{wording.plain(told['aht_seconds'])} seconds on average, a wait "
        f"{wording.plain(told['mean_wait_seconds'])}",
        (
            Column("half_hour", "From", "text"),
            Column("offered", "Calls", "count"),
            Column("abandoned", "Given up", "count"),
            Column("observed", "Answered in 20 s", "share"),
            Column("seats", "Seats needed", "count"),
            Column("modelled", "In 20 s with them", "share"),
            Column("understaffed", "Under 80 %", "yes"),
            Column("surely", "Surely under 80 %", "yes"),
        ),
        {
            name: line | {"understaffed": name in short, "surely": name in surely}
            for name, line in told["half_hours"].items()
        },
    )
    yield table(
        "hotline-left-out",
        "Calls whose times cannot be, or without an end",
        (Column("call", "Call", "text"), Column("why", "Why", "text")),
        [(call, "times out of order") for call in told["inconsistent"]]
        + [(call, "answered, without an end") for call in told["without_end"]],
    )


def spares(review: Review) -> Iterator[Table]:
    """Spares needed and in store."""
    yield of_objects(
        "spares",
        "Devices that were out for the day, and spares that would have been enough",
        (
            Column("equipment", "Equipment", "text"),
            Column("devices", "Deployed", "count"),
            Column("needed", "Replaced", "count"),
            Column("p", "Share", "share"),
            Column("have", "Spares in store", "count"),
            Column("spares_95", "Enough on 95 of 100 days", "count"),
            Column("spares_99", "On 99 of 100", "count"),
            Column("short", "Too few in store", "yes"),
        ),
        {wording.equipment(name): line for name, line in review.sections["spares"].items()},
    )


def recurrence(review: Review) -> Iterator[Table]:
    """The same fault of the same device."""
    told = review.sections["recurrence"]
    names = {one.election.id: one.election.name for one in review.earlier}
    yield table(
        "recurrence-across-elections",
        "In this election and in an earlier one",
        (
            Column("asset", "Device", "text"),
            Column("symptom", "Symptom", "text"),
            Column("now", "Now", "count"),
            Column("before", "Before", "text"),
        ),
        [
            (
                key.rsplit("|", 1)[0],
                wording.symptom(key.rsplit("|", 1)[1]),
                count["now"],
                ", ".join(f"{names[one]}: {n}" for one, n in count.items() if one != "now"),
            )
            for key, count in told.get("across_elections", {}).items()
        ],
    )
    yield table(
        "recurrence-same-day",
        "Twice and more on the day",
        (
            Column("asset", "Device", "text"),
            Column("symptom", "Symptom", "text"),
            Column("times", "Times", "count"),
        ),
        [
            (key.rsplit("|", 1)[0], wording.symptom(key.rsplit("|", 1)[1]), count)
            for key, count in told.get("same_day", {}).items()
        ],
    )


def record(review: Review) -> Iterator[Table]:
    """What the record lacks."""
    told = review.sections["incomplete"]
    yield table(
        "record-gaps",
        "Cases with a field missing or times out of order",
        (Column("case", "Case", "text"), Column("lacks", "What", "text")),
        [(case, ", ".join(lacks)) for case, lacks in told["records"].items()],
    )
    yield table(
        "record-open",
        "Cases that never ended",
        (Column("case", "Case", "text"),),
        [(case,) for case in told["open_cases"]],
    )
    yield table(
        "record-told-twice",
        "Pairs that may be one case: same place, device and symptom within 30 minutes",
        (Column("one", "One", "text"), Column("other", "The other", "text")),
        [pair.split("|", 1) for pair in review.sections["suspected_duplicates"]],
    )
    yield table(
        "places-without-ballots",
        "Places left out of all rates",
        (Column("place", "Place", "place"), Column("why", "Why", "text")),
        [(place, "ballots not known") for place in told["places_without_exposure"]]
        + [(place, "no ballots") for place in told["places_with_zero_ballots"]],
    )
    yield table(
        "late-openings",
        "Places that opened late",
        (Column("place", "Place", "place"), Column("minutes", "Minutes late")),
        told["late_openings"].items(),
    )


def custody(review: Review) -> Iterator[Table]:
    """Openings without witnesses, closing or seal."""
    told = review.sections["custody"]
    places = {case.id: case.place for case in review.material.cases}
    yield table(
        "custody-gaps",
        f"Of {told['openings']} openings of a compartment",
        (
            Column("case", "Case", "text"),
            Column("place", "Place", "place"),
            Column("lacks", "Lacks", "text"),
        ),
        [(case, places.get(case), ", ".join(lacks)) for case, lacks in told["gaps"].items()],
    )


def training(review: Review) -> Iterator[Table]:
    """What was asked by phone, by phase and zone, and which texts answered."""
    told = review.sections["hotline"]["training"]
    yield table(
        "training",
        "Cases answered by phone, or no fault of equipment, per 100 calls of the zone",
        (
            Column("phase", "Phase", "text"),
            Column("zone", "Zone", "text"),
            Column("k", "Cases", "count"),
            Column("calls", "Calls", "count"),
            Column("per_100_calls", "Per 100 calls"),
            Column("ratio", "Times the other zones"),
            *LIMITS,
            Column("p_adjusted", "Adjusted chance"),
            Column("articles", "Answered by", "text"),
        ),
        [
            (
                wording.phase(name.split("|")[0]),
                name.split("|", 1)[1],
                line["k"],
                line["calls"],
                line["per_100_calls"],
                line["ratio"],
                line["low"],
                line["high"],
                line["p_adjusted"],
                ", ".join(line["articles"]),
            )
            for name, line in told["by_phase_and_zone"].items()
        ],
    )
    yield table(
        "training-texts",
        "Articles and ends of trees that answered, and after which the place called again within "
        "30 minutes",
        (
            Column("text", "Article or end of a tree", "text"),
            Column("cases", "Cases", "count"),
            Column("again", "Called again", "count"),
        ),
        [
            (slug, count, told["called_again"].get(slug, 0))
            for slug, count in (told["articles"] | told["tree_ends"]).items()
        ],
    )
