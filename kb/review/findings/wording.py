"""How numbers, times and ids are said in findings: short, rounded, with their unit."""

from __future__ import annotations

from datetime import datetime

from kb.incidents.lists import EFFECTS, OUTCOMES, PHASES, SYMPTOMS
from kb.review.rows import Material

# The plural of a class's name as the findings say it; counties' further classes as they are.
CLASSES = {
    "scanner": "scanners",
    "ballot-box": "ballot boxes",
    "bmd": "marking devices",
    "ballot-printer": "ballot printers",
    "epollbook": "poll books",
    "report-printer": "report printers",
    "power": "power",
    "network": "network",
    "site": "the site",
    "accessibility": "accessibility",
    "ballots": "ballots",
    "logistics": "deliveries",
    "security": "security",
    "closing-records": "closing records",
    "communications": "communications",
    "transmission": "transmission",
}


def equipment(identifier: str) -> str:
    """A class of equipment, many of it."""
    return CLASSES.get(identifier, identifier.replace("-", " "))


def kind(key: str) -> str:
    """`equipment|symptom` in words."""
    first, _, second = key.partition("|")
    return f"{equipment(first)}, {symptom(second)}"


def symptom(identifier: str) -> str:
    """A symptom in words."""
    return SYMPTOMS.get(identifier, identifier)


def phase(identifier: str) -> str:
    """A phase of the day in words."""
    return PHASES.get(identifier, identifier)


def effect(identifier: str) -> str:
    """An effect on voting in words."""
    return EFFECTS.get(identifier, identifier)


def outcome(identifier: str) -> str:
    """How a case ended, in words."""
    return OUTCOMES.get(identifier, identifier)


def place(material: Material, identifier: str) -> str:
    """A place by its id and name."""
    known = material.places.get(identifier)
    return f"{identifier} {known.name}" if known else identifier


def many(count: float, one: str, more: str = "") -> str:
    """A count with its noun: 1 fault, 2 faults."""
    return f"{plain(count)} {one if count == 1 else more or one + 's'}"


def plain(value: float | None, digits: int = 3) -> str:
    """A number to some significant digits, thousands apart; a dash where there is none."""
    if value is None:
        return "–"
    if value == int(value) or abs(value) >= 10 ** (digits - 1):
        return f"{value:,.0f}"
    return f"{value:.{digits}g}"


def chance(p: float) -> str:
    """In how many reviews, as it is read out before the word "reviews"."""
    if p < 0.0001:
        return "fewer than 1 in 10,000"
    return f"{100 * p:.1f} % of" if p >= 0.001 else f"1 in {round(1 / p, -2):,.0f}"


def sure(p: float, looks: str) -> str:
    """How sure a finding beyond chance is: its adjusted p, and what was looked at together.

    Never as the chance that nothing differs: that is not what a test says.
    """
    return f"By chance alone so much is seen in {chance(p)} reviews, {looks} taken together."


def times(
    value: float | None, low: float | None, high: float | None, none: str = "none before"
) -> str:
    """A ratio of rates with its limits; `none` where there was nothing to compare with."""
    if value is None:
        return f"{none}, so at least {plain(low, 2)} times the rate (95 %)"
    upper = plain(high, 2) if high is not None else "no limit"
    return f"{plain(value, 2)} times the rate (95 %: {plain(low, 2)} to {upper})"


def clock(at: datetime, material: Material) -> str:
    """A time of day on the county's clock."""
    return f"{at.astimezone(material.zone):%H:%M}"


def listed(names: list[str], most: int = 6) -> str:
    """Names in a row, the rest counted."""
    shown = names[:most]
    rest = len(names) - len(shown)
    if rest:
        return f"{', '.join(shown)} and {rest} more"
    return " and ".join([", ".join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)
