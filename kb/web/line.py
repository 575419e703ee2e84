"""What will the line be? From what the caller counts, one sentence to read to the judge."""

from __future__ import annotations

from math import inf

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from kb.base.clock import now
from kb.incidents.line import ACT, CEILING, Line, Outage, by_hour, expect, sentence
from kb.incidents.places import Place
from kb.web.access import allow
from kb.web.county import county

pages = Blueprint("line", __name__, url_prefix="/calls/line")

# Seconds a voter takes at the device, where nobody has timed it: common practice.
SECONDS = 45
# The shares of a day's voters by hour from opening: a rush before work, at noon and after work.
SHARES = (12, 10, 7, 6, 6, 7, 7, 6, 6, 7, 9, 10, 7)
FIELDS = ("arrivals", "seconds", "up", "whole", "minutes", "waiting", "stores")


@pages.get("")
@allow("take calls")
def page() -> ResponseReturnValue:
    """The form, and the answer where enough was filled in."""
    place = county().record.place(request.args.get("place", ""))
    typed = {name: request.args.get(name, "").strip() for name in FIELDS}
    proposed = _proposed(place)
    problems: dict[str, str] = {}
    line = _line(typed, problems) if any(typed.values()) else None
    return render_template(
        "calls/line.html",
        place=place,
        places=county().record.places(),
        typed=typed if any(typed.values()) else proposed,
        problems=problems,
        line=line,
        said=sentence(line) if line else "",
        inf=inf,
        act=round(ACT),
        ceiling=round(CEILING),
    ), (422 if problems else 200)


def _proposed(place: Place | None) -> dict[str, str]:
    """What is known of the place before the caller counts anything."""
    known: dict[str, str] = {"seconds": str(SECONDS), "minutes": "30", "stores": "0"}
    if place is None:
        return known
    scanners = [
        device for device in county().record.devices(place.id) if device.equipment == "scanner"
    ]
    known |= {"whole": str(len(scanners) or 1), "up": str(max(len(scanners) - 1, 0))}
    election = county().election(now())
    if election and place.expected_voters:
        hour = int((now() - election.opening(place)).total_seconds() // 3600)
        voters = by_hour(place.expected_voters, SHARES)
        if 0 <= hour < len(voters):
            known["arrivals"] = str(round(voters[hour]))
    return known


def _line(typed: dict[str, str], problems: dict[str, str]) -> Line | None:
    """The answer; None where something is missing or wrong, and then `problems` says what."""
    needs = {
        "arrivals": "Type how many voters come in an hour.",
        "seconds": "Type how many seconds a voter takes at one device.",
        "up": "Type how many devices work now; 0 if none.",
        "whole": "Type how many work when all is well.",
        "minutes": "Type in how many minutes it is expected to work again.",
    }
    numbers: dict[str, float] = {}
    for name in FIELDS:
        plain = typed[name].replace(",", "")
        if plain.isascii() and plain.isdecimal() and len(plain) <= 6:
            numbers[name] = float(plain)
        elif plain or name in needs:
            problems[name] = needs.get(name, "Type a whole number, or leave it empty.")
    if numbers.get("seconds") == 0:
        problems["seconds"] = needs["seconds"]
    if not problems and numbers["up"] > numbers["whole"]:
        problems["up"] = "More devices work now than when all is well. Look at the two once more."
    if problems:
        return None
    return expect(
        Outage(
            arrivals=numbers["arrivals"],
            service=3600 / numbers["seconds"],
            up=int(numbers["up"]),
            whole=int(numbers["whole"]),
            minutes=numbers["minutes"],
            waiting=numbers.get("waiting", 0.0),
            stores=min(numbers.get("stores", 0.0), 100.0) / 100,
        )
    )
