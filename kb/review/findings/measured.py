"""What the number behind an action is, in words: the way back from its JSON Pointer."""

from __future__ import annotations

from kb.review.findings.wording import equipment, phase


def measured(pointer: str) -> str:  # noqa: C901, PLR0911, PLR0912 - one line for each measure
    """The words for a measure; the pointer itself where no finding uses it."""
    names = [part.replace("~1", "/").replace("~0", "~") for part in pointer.split("/")[1:]]
    match names:
        case ["rates", "per_100_devices", name, "rate"]:
            return f"faults per 100 {equipment(name)}, all of the class"
        case ["rates", "by_equipment", name, "rate"]:
            return f"faults of {equipment(name)} per 1,000 ballots, all places"
        case ["rates", "by_zone", zone, "rate"]:
            return f"faults per 1,000 ballots in zone {zone}"
        case ["shrinkage", "places", place, "ml"]:
            return f"likely faults per 1,000 ballots at {place}, allowing for chance"
        case ["restore", "by_zone", zone, "median"]:
            return f"minutes until half of the faults in zone {zone} are over"
        case ["misfeeds", "models", model, "per_1000"]:
            return f"misfeeds per 1,000 sheets of model {model}"
        case ["hotline", "half_hours", begin, "observed"]:
            return f"share of calls answered within 20 seconds from {begin}"
        case ["hotline", "training", _, name, _]:
            step, _, zone = name.partition("|")
            return f"questions per 100 calls in the phase {phase(step)}, zone {zone}"
        case ["spares", name, "needed"]:
            return f"{equipment(name)} out for the day"
        case ["custody", "gaps"]:
            return "cases whose custody record is not whole"
        case ["time_lost", "accessible"]:
            return "places without accessible voting for a while"
        case ["time_lost", "places_total_minutes"]:
            return "minutes in which voting had stopped"
        case ["incomplete", "late_openings"]:
            return "places that opened late"
        case ["incomplete", "count"]:
            return "cases with gaps in their record"
        case ["recurrence", "across_elections"]:
            return "faults that came back at the same device"
    return pointer
