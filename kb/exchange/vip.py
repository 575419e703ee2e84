"""Polling places from a Voting Information Project feed: version 6.0 XML, or its CSV files.

A precinct without a polling place is no error: where voters may go anywhere, none of them names
one. Drop boxes are not polling places. What a feed does not know stays as the county has it.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from xml.etree.ElementTree import Element

from kb.base.errors import Problem, Problems
from kb.exchange import xml_in
from kb.exchange.xml_in import plain

CODE = "VIP01"
_XSD = "vip_spec.xsd"
_WALL = re.compile(r"(\d\d:\d\d)")
LOCATIONS, PRECINCTS = "polling_location.txt", "precinct.txt"
LINKS = "precinct_polling_location.txt"


@dataclass(frozen=True)
class Feed:
    """Rows for places.csv with what the feed knows, and how many precincts name no place."""

    places: tuple[Mapping[str, str], ...]
    precincts: int
    without_place: int
    drop_boxes: int


def parse_xml(data: bytes, where: str, day: date) -> Feed:
    """Read a 6.0 feed; `day`: the election's, for its hours. Raises Problems with every fault."""
    root = xml_in.read(data, where, _XSD, CODE)
    hours = {
        str(one.get("id")): found
        for one in root
        if plain(one.tag) == "HoursOpen" and (found := _hours(one, day))
    }
    locations = [_location(one, hours) for one in root if plain(one.tag) == "PollingLocation"]
    precincts = [
        (_text(one, "Number") or str(one.get("id")), _text(one, "PollingLocationIds").split())
        for one in root
        if plain(one.tag) == "Precinct"
    ]
    return _feed(locations, precincts, where)


def parse_csv(files: Mapping[str, str], where: str) -> Feed:
    """Read the CSV files of a feed, by name; links of precincts may stand in either place."""
    if LOCATIONS not in files:
        raise Problems([Problem(where, 0, CODE, f"{LOCATIONS} is missing among the files")])
    locations = []
    for row in _rows(files[LOCATIONS]):
        name = row.get("name") or row.get("address_location_name", "")
        parts = [row.get(f"{begin}{part}", "") for begin, part in _ADDRESS if row.get(begin + part)]
        told = {
            "place": row.get("id", ""),
            "name": name or (parts[0] if parts else ""),
            "address": ", ".join(parts),
            "latitude": row.get("latitude", ""),
            "longitude": row.get("longitude", ""),
            "drop_box": row.get("is_drop_box", ""),
        }
        locations.append(told)
    links: dict[str, list[str]] = {}
    for row in _rows(files.get(LINKS, "")):
        links.setdefault(row.get("precinct_id", ""), []).append(row.get("polling_location_id", ""))
    precincts = [
        (
            row.get("number") or row.get("id", ""),
            links.get(row.get("id", ""), row.get("polling_location_ids", "").split()),
        )
        for row in _rows(files.get(PRECINCTS, ""))
    ]
    return _feed(locations, precincts, where)


_ADDRESS = tuple(
    (begin, part)
    for part in ("line1", "line2", "line3", "city", "state", "zip")
    for begin in ("address_", "structured_", "")
)


def _feed(
    locations: Iterable[Mapping[str, str]], precincts: list[tuple[str, list[str]]], where: str
) -> Feed:
    every = list(locations)
    kept = [told for told in every if told.get("drop_box") != "true"]
    twice = [name for name, times in Counter(told["place"] for told in kept).items() if times > 1]
    if twice:
        raise Problems(
            Problem(where, 0, CODE, f"the polling location '{name}' stands twice") for name in twice
        )
    held: dict[str, list[str]] = {}
    for number, places in precincts:
        for place in places:
            held.setdefault(place, []).append("-".join(number.split()))
    rows = []
    for told in kept:
        row = {name: value for name, value in told.items() if value and name != "drop_box"}
        if told["place"] in held:
            row["precincts"] = " ".join(held[told["place"]])
        rows.append(row)
    without = sum(not places for _, places in precincts)
    return Feed(tuple(rows), len(precincts), without, len(every) - len(kept))


def _location(element: Element, hours: Mapping[str, tuple[str, str]]) -> dict[str, str]:
    parts = [
        part.text.strip()
        for one in element
        if plain(one.tag) in {"AddressStructured", "AddressLine"}
        for part in (one if plain(one.tag) == "AddressStructured" else [one])
        if part.text and part.text.strip()
    ]
    opens, closes = hours.get(_text(element, "HoursOpenId"), ("", ""))
    place = next((one for one in element if plain(one.tag) == "LatLng"), None)
    return {
        "place": str(element.get("id")),
        "name": _text(element, "Name") or (parts[0] if parts else str(element.get("id"))),
        "address": ", ".join(parts),
        "latitude": _text(place, "Latitude") if place is not None else "",
        "longitude": _text(place, "Longitude") if place is not None else "",
        "opens": opens,
        "closes": closes,
        "drop_box": _text(element, "IsDropBox"),
    }


def _hours(element: Element, day: date) -> tuple[str, str] | None:
    """Opening and closing on the wall clock of the election's day; None where it is not told."""
    for schedule in (one for one in element if plain(one.tag) == "Schedule"):
        first, last = _text(schedule, "StartDate"), _text(schedule, "EndDate")
        if not (first or day.isoformat()) <= day.isoformat() <= (last or day.isoformat()):
            continue
        for hours in (one for one in schedule if plain(one.tag) == "Hours"):
            found = [_WALL.match(_text(hours, name)) for name in ("StartTime", "EndTime")]
            if found[0] and found[1]:
                return found[0].group(1), found[1].group(1)
    return None


def _text(element: Element, name: str) -> str:
    found = next((one for one in element if plain(one.tag) == name), None)
    return (found.text or "").strip() if found is not None else ""


def _rows(text: str) -> Iterable[dict[str, str]]:
    return csv.DictReader(io.StringIO(text, newline=""))
