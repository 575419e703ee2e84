"""The tables of the methods that compare: totals, rates, places, times, kinds of fault."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from kb.review.findings import wording
from kb.review.measures.counts import by, by_hour, listed
from kb.review.measures.rates import FEW
from kb.review.sections import Review
from kb.review.tables.table import LIMITS, Column, Table, of_objects, table


def totals(review: Review) -> Iterator[Table]:
    """By equipment, effect, phase and hour."""
    told = review.sections["totals"]
    yield table(
        "totals",
        "All that the record holds",
        (Column("what", "What", "text"), Column("count", "Number", "count")),
        [
            ("entries", told["rows"]),
            ("the same case as another, not counted", told["duplicates"]),
            ("cases that count", told["counted"]),
            ("of these faults", told["faults"]),
        ],
    )
    for name, heading, words in (
        ("equipment", "Equipment", wording.equipment),
        ("phase", "Phase", wording.phase),
        ("effect", "Effect on voting", wording.effect),
    ):
        yield table(
            f"by-{name}",
            f"Cases that count, by {heading.lower()}",
            (Column(name, heading, "text"), Column("cases", "Cases", "count")),
            [(words(key), count) for key, count in told[f"by_{name}"].items()],
        )
    yield table(
        "by-hour",
        "By local hour of the report",
        (
            Column("hour", "Hour", "text"),
            Column("cases", "Cases", "count"),
            Column("faults", "Faults", "count"),
        ),
        [
            (line.key, line.cases, line.faults)
            for line in by_hour(review.material.cases, review.material.election.time_zone)
        ],
    )
    yield table(
        "by-place",
        "By place, in the order of their numbers: a small place with one fault has a high rate "
        "by chance, so places are not ranked",
        (
            Column("place", "Place", "place"),
            Column("cases", "Cases", "count"),
            Column("faults", "Faults", "count"),
        ),
        [
            (line.key, line.cases, line.faults)
            for line in listed(
                by(review.material.cases, lambda case: case.place or "(unknown)"), ()
            )
        ],
    )


def rates(review: Review) -> Iterator[Table]:
    """Per 1,000 ballots, and per 100 devices."""
    told = review.sections["rates"]
    columns = (
        Column("k", "Faults", "count"),
        Column("exposure", "1,000 ballots"),
        Column("rate", "Per 1,000 ballots"),
        *LIMITS,
        Column("too_few", "Too few to say", "yes"),
    )
    left_out = f"{told['left_out_faults']} faults at places without known ballots are left out"
    lines = {"all places": told["overall"]} | told["by_zone"]
    yield of_objects(
        "rates-by-zone",
        f"Faults per 1,000 ballots, all and by zone; {left_out}",
        (Column("zone", "Zone", "text"), *columns),
        _told_few(lines),
    )
    yield of_objects(
        "rates-by-equipment",
        "Faults per 1,000 ballots by equipment, ballots of all places",
        (Column("equipment", "Equipment", "text"), *columns),
        _told_few({wording.equipment(name): line for name, line in told["by_equipment"].items()}),
    )
    yield of_objects(
        "rates-per-devices",
        "Faults per 100 deployed devices, wherever they were",
        (
            Column("equipment", "Equipment", "text"),
            Column("k", "Faults", "count"),
            Column("devices", "Devices", "count"),
            Column("rate", "Per 100 devices"),
            *LIMITS,
            Column("too_few", "Too few to say", "yes"),
        ),
        _told_few(
            {wording.equipment(name): line for name, line in told["per_100_devices"].items()}
        ),
    )


def _told_few(lines: Mapping[str, dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Each line of rates with whether it has too few faults to say anything."""
    return {name: line | {"too_few": line["k"] < FEW} for name, line in lines.items()}


def places(review: Review) -> Iterator[Table]:
    """Every usable place with what it had, what was to be expected, and its likely rate."""
    funnel, charts = review.sections["funnel"], review.sections["charts"]
    likely = review.sections["shrinkage"]["places"]
    outside = {
        "exact_998_high": set(funnel["exact_998_high"]),
        "gamma_998_high": set(funnel["gamma_poisson_998_high"]),
    }
    yield table(
        "places",
        "In the order of their numbers, never a ranking: the rate of a small place says little",
        (
            Column("place", "Place", "place"),
            Column("faults", "Faults", "count"),
            Column("expected", "Expected"),
            Column("rate", "Per 1,000 ballots"),
            Column("likely", "Likely rate"),
            *LIMITS,
            Column("p_high", "Chance of so many"),
            Column("exact_998_high", "Above 99.8 %, exact", "yes"),
            Column("gamma_998_high", "Above 99.8 %, unequal places", "yes"),
        ),
        [
            (
                name,
                one["k"],
                one["expected"],
                charts["limits"][name]["u"],
                likely[name]["ml"],
                likely[name]["ml_low"],
                likely[name]["ml_high"],
                one["p_high"],
                name in outside["exact_998_high"],
                name in outside["gamma_998_high"],
            )
            for name, one in funnel["expected"].items()
        ],
    )
    yield _limits(review)
    yield table(
        "places-figures",
        "How the places vary",
        (Column("what", "What", "text"), Column("value", "Value")),
        [
            ("rate of all, per 1,000 ballots", funnel["target"]),
            ("dispersion, plain (1 is chance alone)", funnel["phi_plain"]),
            ("dispersion, winsorised", funnel["phi_winsorised"]),
            ("chance of such a dispersion", funnel["dispersion_p"]),
            ("sigma z of the u' chart", charts["sigma_z"]),
            ("gamma shape of the places' rates", review.sections["shrinkage"]["ml_nu"]),
            ("gamma rate", review.sections["shrinkage"]["ml_alpha"]),
            ("variance between places, by moments", review.sections["shrinkage"]["marshall_A"]),
        ],
    )


# Every kind of limit, by its name in the numbers of the review.
KINDS = {
    "exact_95_high": "Above 95 %, exact",
    "exact_95_low": "Below 95 %, exact",
    "exact_998_high": "Above 99.8 %, exact",
    "exact_998_low": "Below 99.8 %, exact",
    "multiplicative_95_high": "Above 95 %, widened",
    "multiplicative_998_high": "Above 99.8 %, widened",
    "multiplicative_95_low": "Below 95 %, widened",
    "gamma_poisson_95_high": "Above 95 %, unequal places",
    "gamma_poisson_998_high": "Above 99.8 %, unequal places",
    "gamma_poisson_95_low": "Below 95 %, unequal places",
}


def _limits(review: Review) -> Table:
    """The places outside any of the limits, and outside which; rates by moments beside it."""
    funnel, likely = review.sections["funnel"], review.sections["shrinkage"]["places"]
    outside = {name: set(funnel[name]) for name in KINDS}
    rows = [
        (place, likely[place]["marshall"], *(place in outside[name] for name in KINDS))
        for place in funnel["expected"]
        if any(place in named for named in outside.values())
    ]
    return table(
        "places-limits",
        "Places outside one limit or another; 95 % limits leave out one place in twenty by chance",
        (
            Column("place", "Place", "place"),
            Column("marshall", "Likely rate, by moments"),
            *(Column(name, heading, "yes") for name, heading in KINDS.items()),
        ),
        rows,
    )


def chart(review: Review) -> Iterator[Table]:
    """Both control charts."""
    told = review.sections["charts"]
    above, laney = set(told["u_above"]), set(told["laney_above"])
    yield table(
        "control-chart",
        "Upper limits of each place's rate per 1,000 ballots",
        (
            Column("place", "Place", "place"),
            Column("u", "Rate"),
            Column("u_high", "Upper limit, u"),
            Column("laney_high", "Upper limit, u'"),
            Column("u_above", "Above u", "yes"),
            Column("laney_above", "Above u'", "yes"),
        ),
        [
            (name, one["u"], one["u_high"], one["laney_high"], name in above, name in laney)
            for name, one in told["limits"].items()
        ],
    )


def restore(review: Review) -> Iterator[Table]:
    """Quartiles of the minutes to restore."""
    told = review.sections["restore"]
    columns = (
        Column("n", "Faults", "count"),
        Column("open", "Still open", "count"),
        Column("q25", "A quarter over after, min"),
        Column("median", "Half, min"),
        Column("median_low", "95 % from"),
        Column("median_high", "to"),
        Column("q75", "Three quarters, min"),
    )
    against = told["logrank_zone_against_rest"]
    zones = {
        zone: line | {"p": (against.get(zone) or {}).get("p")}
        for zone, line in told["by_zone"].items()
    }
    at_once = told["logrank_zones"]
    yield of_objects(
        "restore-by-zone",
        "Minutes from start to restored, by zone; all zones at once (log-rank): chi-square "
        f"{wording.plain(at_once['chi2'])}, {wording.plain(at_once['df'])} degrees, chance "
        f"{wording.plain(at_once['p'], 2)}",
        (
            Column("zone", "Zone", "text"),
            *columns,
            Column("p", "Chance, against the other zones"),
        ),
        {"all": told["overall"]} | zones,
    )
    yield of_objects(
        "restore-by-equipment",
        "By equipment",
        (Column("equipment", "Equipment", "text"), *columns),
        {wording.equipment(name): line for name, line in told["by_equipment"].items()},
    )
    if told["past"]:
        names = {one.election.id: one.election.name for one in review.earlier}
        yield of_objects(
            "restore-before",
            "In earlier elections",
            (Column("election", "Election", "text"), *columns),
            {names[name]: line for name, line in told["past"].items()},
        )
    still = {case.id for case in review.material.faults if case.restored is None}
    reasons = [
        (case, "began after the cut-off" if case in still else "restored before it began")
        for case in told["excluded"]
    ]
    yield table(
        "restore-left-out",
        "Left out: no time of a start, or times that cannot be",
        (Column("case", "Case", "text"), Column("why", "Why", "text")),
        [(case, "no start") for case in told["no_start"]] + reasons,
    )


def time_lost(review: Review) -> Iterator[Table]:
    """Minutes of places, devices and accessible voting."""
    told = review.sections["time_lost"]
    share = told["share_of_place_time"]
    yield table(
        "time-lost-places",
        f"Places at which voting had stopped: {wording.plain(told['places_total_minutes'])} minutes"
        + (f", {share:.3%} of all voting hours" if share is not None else ""),
        (Column("place", "Place", "place"), Column("minutes", "Minutes of voting hours")),
        told["places"].items(),
    )
    yield of_objects(
        "time-lost-devices",
        "Devices out of order within voting hours",
        (
            Column("equipment", "Equipment", "text"),
            Column("device_hours", "Device hours"),
            Column("minutes_lost", "Minutes lost"),
            Column("share", "Share of device hours", "share"),
        ),
        {wording.equipment(name): line for name, line in told["devices"].items()},
    )
    yield table(
        "accessible-voting-lost",
        "Accessible voting not available, at the least",
        (Column("place", "Place", "place"), Column("minutes", "Minutes of voting hours")),
        told["accessible"].items(),
    )


def pareto(review: Review) -> Iterator[Table]:
    """Kinds of fault by count and by minutes."""
    for name, caption, heading in (
        ("by_count", "Kinds of fault by count", "Faults"),
        ("by_minutes", "Kinds of fault by minutes to restore", "Minutes"),
    ):
        yield table(
            f"kinds-{name.replace('_', '-')}",
            caption,
            (
                Column("kind", "Equipment and symptom", "text"),
                Column("value", heading),
                Column("cumulative", "Together with those above", "share"),
            ),
            [
                (wording.kind(line["key"]), line["value"], line["cumulative_percent"] / 100)
                for line in review.sections["pareto"][name]
            ],
        )
