"""All numbers of a review: the shape they are promised in, and a small election by hand."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from kb.base.clock import parse_instant
from kb.incidents.openings import Opened
from kb.incidents.places import Device, Election
from kb.review.findings.board import findings, quiet
from kb.review.methods import METHODS
from kb.review.rows import Case, Material, Turnout
from kb.review.sections import review, sections
from tests.benchmarks.quiet import elections
from tests.review.making import DAY, DEVICES, ELECTION, at, call, case, material, turnout

SHAPE: dict[str, Any] = json.loads(
    (Path(__file__).parents[1] / "fixtures/stats/review-shape.json").read_text("utf-8")
)
BEFORE = Election(**{**ELECTION.model_dump(), "election": "E0", "date": DAY.replace(year=2024)})


def jams() -> list[Case]:
    """Six faults at usable places, one at a place without ballots, one without place."""
    stuck = [
        case(f"I{n}", place="P1", equipment="scanner", symptom="jam", effect="slowed")
        for n in range(5)
    ]
    return [
        *stuck,
        case("I5", place="P2", equipment="bmd", symptom="touch-off", effect="device"),
        case("I6", place="P3", equipment="scanner", symptom="jam", effect="device"),
        case("I7", equipment="scanner", symptom="jam", effect="device"),
        case("I8", place="P2", equipment="scanner", symptom="jam", effect="none"),
        case("I9", place="P1", equipment="scanner", effect="slowed", outcome="duplicate"),
    ]


@pytest.fixture
def whole() -> Material:
    return material(jams())


# The small election, worked by hand


def test_totals(whole: Material) -> None:
    totals = sections(whole)["totals"]
    assert (totals["rows"], totals["duplicates"]) == (10, 1)
    assert (totals["counted"], totals["faults"]) == (9, 8)
    assert totals["by_equipment"] == {"bmd": 1, "scanner": 8}
    assert totals["by_equipment_and_effect"] == {
        "bmd|device": 1,
        "scanner|device": 2,
        "scanner|none": 1,
        "scanner|slowed": 5,
    }


def test_rates_take_usable_places_alone(whole: Material) -> None:
    found = sections(whole)["rates"]
    # 6 faults on 800 ballots; two faults are left out.
    assert found["overall"]["rate"] == pytest.approx(7.5)
    assert found["left_out_faults"] == 2
    zones = {name: (line["k"], line["exposure"]) for name, line in found["by_zone"].items()}
    assert zones == {"(unknown)": (0, 0), "East": (6, 0.8), "West": (0, 0)}
    classes = {name: (line["k"], line["exposure"]) for name, line in found["by_equipment"].items()}
    assert classes == {"bmd": (1, 0.8), "scanner": (5, 0.8)}


def test_limits_of_a_class_are_garwoods(whole: Material) -> None:
    # Garwood's 1.623 and 11.668 for a count of 5 (fixtures/stats/garwood.json), over 0.8 thousand.
    scanner = sections(whole)["rates"]["by_equipment"]["scanner"]
    assert scanner["rate"] == 6.25
    assert (round(scanner["low"], 2), round(scanner["high"], 2)) == (2.03, 14.59)


def test_devices_count_every_fault_of_their_class(whole: Material) -> None:
    lines = sections(whole)["rates"]["per_100_devices"]
    assert {name: line["rate"] for name, line in lines.items()} == {"bmd": 100.0, "scanner": 350.0}


def test_where_there_is_no_exposure_there_is_no_rate(whole: Material) -> None:
    west = sections(whole)["rates"]["by_zone"]["West"]
    assert west == {"k": 0, "exposure": 0, "rate": None, "low": None, "high": None}


def test_few_faults_are_said_to_be_few(whole: Material) -> None:
    """Under five faults at a place (common practice) nothing is said of its rate."""
    found = review(whole)
    method, words = quiet(found, findings(found))[0]
    assert method == "funnel"
    assert words.startswith("The highest raw rates are those of small places with fewer than 5")
    assert "P2" not in words


def test_places_stand_by_id_not_by_rate(whole: Material) -> None:
    assert list(sections(whole)["funnel"]["expected"]) == ["P1", "P2"]
    assert list(sections(whole)["shrinkage"]["places"]) == ["P1", "P2"]


def test_a_zone_is_a_group_where_its_place_has_none() -> None:
    found = sections(material([case("I1", place="P4")], turnout=turnout({"P4": 100})))
    assert found["rates"]["by_zone"]["(unknown)"]["k"] == 1


# The shape


def full() -> tuple[Material, list[Material]]:
    """An election in which every section has something to say, and the one before it."""
    times = {"started": at("08:00"), "reported": at("08:05"), "restored": at("08:30")}
    stuck = {"equipment": "scanner", "symptom": "jam", "effect": "stopped", "phase": "voting"}
    cases = [
        case(f"J{n}", place=f"P{n}", asset=f"SC-{n}", outcome="device-swapped", **stuck | times)
        for n in (1, 2, 3, 4)
    ]
    cases += [
        case("J5", place="P1", asset="SC-1", **stuck | times | {"restored": None}),
        case("J6", place="P1", asset="SC-1", **stuck | times | {"restored": at("07:30")}),
        case("J7", place="P2", **stuck),
        case("J8", place="P1", equipment="accessibility", effect="device", **times),
        case("J9", place="P2", zone="East", outcome="fixed-by-phone", article="a-slug", **times),
    ]
    batch = [
        Device(asset=f"X{n}", equipment="epollbook", batch="B1" if n < 5 else "B2", place="P1")
        for n in range(10)
    ]
    cases += [case(f"K{n}", place="P1", asset=f"X{n}", effect="device", **times) for n in range(5)]
    opened = Opened("box", at("08:00"), closed=None, witnesses=frozenset(), seals=())
    calls = [call(f"C{n}", at("07:10"), 60, place="P1") for n in range(6)]
    calls.append(call("C8", at("07:10"), ended=None))
    calls.append(call("C9", at("07:10"), -5))
    now = material(
        cases,
        devices=(*DEVICES, *batch),
        turnout=turnout({"P1": 500, "P2": 300, "P3": 0})
        | {"P2": Turnout(300, 300, 300, at("07:20"))},
        calls=tuple(calls),
        openings={"J1": (opened,)},
    )
    before = material(cases[:1], election=BEFORE, devices=(*DEVICES, *batch))
    return now, [before]


def differences(shape: Any, found: Any, path: str = "", level: int = 0) -> Iterator[str]:
    """Where a value is not as the shape says; keys it does not know may stand at level one."""
    if isinstance(shape, Mapping):
        if isinstance(found, Mapping):
            yield from of_keys(shape, found, path, level)
        else:
            yield f"{path} is no object"
    elif isinstance(shape, list):
        if isinstance(found, list):
            kind = "id" if shape == ["ids"] else shape[0]
            for one in found:
                yield from differences(kind, one, f"{path}[]", level)
        else:
            yield f"{path} is no list"
    elif not fits(shape, found):
        yield f"{path} is {found!r}, not {shape}"


def of_keys(
    shape: Mapping[str, Any], found: Mapping[str, Any], path: str, level: int
) -> Iterator[str]:
    plain = {key for key in shape if not key.startswith("<")}
    of_ids = next((shape[key] for key in shape if key not in plain), None)
    yield from (f"{path}/{key} is missing" for key in sorted(plain - found.keys()))
    for key, value in found.items():
        inner = shape[key] if key in plain else of_ids
        if inner is not None:
            yield from differences(inner, value, f"{path}/{key}", level + 1)
        elif level != 1:
            yield f"{path}/{key} is no key of the shape"


def fits(kind: str, value: object) -> bool:
    """Whether a value is of the kind that the shape names; every number may be without value."""
    if kind in {"id", "text"}:
        return isinstance(value, str)
    if kind == "true/false":
        return isinstance(value, bool)
    if kind.startswith("RFC 3339"):
        return isinstance(value, str) and value.endswith("Z") and bool(parse_instant(value))
    if isinstance(value, bool):
        return False
    return value is None or isinstance(value, int if kind == "count" else (int, float))


# Without earlier elections these are empty objects.
EMPTY = {"alarms", "before_after", "recurrence"}


def told(sections: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in sections.items() if key not in EMPTY}


def test_the_json_has_the_keys_of_the_shape_and_something_under_each() -> None:
    now, before = full()
    found = review(now, before).sections
    assert list(differences(SHAPE, found)) == []
    for section, key in (
        ("misfeeds", "models"), ("enrichment", "rows"), ("alarms", "first"),
        ("recurrence", "across_elections"), ("recurrence", "same_day"), ("custody", "gaps"),
        ("incomplete", "late_openings"), ("restore", "excluded"), ("restore", "no_start"),
        ("hotline", "inconsistent"), ("hotline", "without_end"), ("hotline", "understaffed"),
        ("time_lost", "places"), ("restore", "past"),
    ):  # fmt: skip
        assert found[section][key], (section, key)
    assert found["suspected_duplicates"]
    assert found["before_after"]


def test_a_quiet_county_has_the_shape_too() -> None:
    *earlier, now = elections(0, 40)
    assert list(differences(SHAPE, review(now, earlier).sections)) == []


@pytest.mark.parametrize("past", [0, 1])
def test_the_json_is_plain(past: int) -> None:
    now, before = full()
    found = review(now, before[:past]).sections
    text = json.dumps(found, allow_nan=False)
    assert json.loads(text) == found


def test_without_earlier_elections_three_sections_are_empty() -> None:
    found = sections(full()[0])
    assert {name: found[name] for name in EMPTY} == {name: {} for name in EMPTY}
    assert found["restore"]["past"] == {}
    assert list(differences(told(SHAPE), told(found))) == []


NOTHING: dict[str, dict[str, Any]] = {
    "no cases": {"cases": ()},
    "no places": {"places": {}},
    "no devices": {"devices": ()},
    "no turnout": {"turnout": {}},
    "no ballots": {"turnout": turnout({"P1": 0, "P2": None})},
    "no calls": {"calls": ()},
    "nothing at all": {
        "cases": (),
        "places": {},
        "devices": (),
        "turnout": {},
        "calls": (),
        "openings": {},
    },
}


@pytest.mark.parametrize("lacking", NOTHING.values(), ids=NOTHING)
@pytest.mark.parametrize("past", [0, 1])
def test_what_is_empty_has_values_without_an_error(lacking: dict[str, Any], past: int) -> None:
    now, before = full()
    bare = Material(**{**_parts(now), **lacking})
    found = review(bare, before[:past])
    kept = dict if past else told
    assert list(differences(kept(SHAPE), kept(found.sections))) == []
    json.dumps(found.sections, allow_nan=False)
    # And everything that reads them has something to say, or nothing.
    quiet(found, findings(found))
    for method in METHODS:
        list(method.tables(found))
        method.drawn(found)


def test_an_earlier_election_may_be_empty() -> None:
    now, _ = full()
    empty = Material(BEFORE, (), {}, (), {})
    found = review(now, [empty]).sections
    assert list(differences(SHAPE, found)) == []
    assert found["restore"]["past"]["E0"]["n"] == 0
    assert found["before_after"]["scanner|all"]["ratio"] is None


def _parts(of: Material) -> dict[str, Any]:
    names = ("election", "cases", "places", "devices", "turnout", "calls", "openings", "ends")
    return {name: getattr(of, name) for name in names}
