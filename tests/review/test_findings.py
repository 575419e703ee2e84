"""What stands out: quiet elections are left in peace, and each planted fault is found.

The quiet county and what is planted in it are invented (tests/benchmarks/quiet.py says how it is
drawn; 200 elections of it are its benchmark).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from functools import cache
from typing import Any

import pytest

from kb.incidents.openings import Opened
from kb.incidents.places import Device
from kb.review.figures.places import funnel
from kb.review.findings.board import findings, quiet
from kb.review.findings.finding import Finding, number, pointer
from kb.review.findings.measured import measured
from kb.review.rows import Call, Case, Material, Turnout
from kb.review.sections import Review, review
from tests.benchmarks.quiet import DAYS, elections, false_findings

# A false finding is made in at most one election of fifty for each of ten methods; in five
# elections one may well turn up, three would be odd (Poisson of mean 1: under one in twelve).
MOST_FALSE = 2
SEED, SIZE = 3, 120
BEGIN = datetime.combine(DAYS[-1], time(6), UTC)


@cache
def county() -> tuple[Material, Material, Material]:
    """A quiet county: two earlier elections, and the one to be reviewed."""
    one, two, now = elections(SEED, SIZE)
    return one, two, now


def found(now: Material, last: Material | None = None) -> tuple[Review, list[Finding]]:
    first, second, _ = county()
    of = review(now, [first, last or second])
    return of, findings(of)


def keys(now: Material, last: Material | None = None) -> set[str]:
    return {one.key for one in found(now, last)[1] if one.sort == "beyond chance"}


def fault(identifier: str, place: int, kind: str = "scanner", **known: Any) -> Case:
    """A fault at noon that took twenty minutes, but for what the test says."""
    started = BEGIN + timedelta(minutes=known.pop("minute", 360))
    of = county()[2].places[f"P{place:04d}"]
    told: dict[str, Any] = {
        "asset": f"{kind}-{place}", "symptom": "frozen", "effect": "device", "flags": "",
        "outcome": "fixed-on-site", "article": None, "dispatched": None, "arrived": None,
        "started": started, "reported": started, "restored": started + timedelta(minutes=20),
    }  # fmt: skip
    known = {"place": of.id, "zone": of.zone, "equipment": kind, "phase": "voting"} | known
    return Case(id=identifier, **told | known)


def planted(*cases: Case, **known: Any) -> Material:
    """The quiet election with these cases in addition."""
    now = county()[2]
    return replace(now, cases=(*now.cases, *cases), **known)


def test_quiet_elections_are_left_in_peace() -> None:
    told = [false_findings(seed, 200) for seed in range(5)]
    assert sum(one.total() for one in told) <= MOST_FALSE


def test_the_county_of_these_tests_is_quiet() -> None:
    assert keys(county()[2]) == set()


# What is planted is found


def bad_batch() -> Material:
    """Half of the report printers of one batch fail, at different hours."""
    batch = [
        int(one.asset.split("-")[-1])
        for one in county()[2].devices
        if one.equipment == "report-printer" and one.batch == "B7"
    ]
    struck = [
        fault(f"X{n}", place, "report-printer", symptom="faint", minute=61 * n % 900)
        for n, place in enumerate(batch)
        if n % 4 != 3
    ]
    return planted(*struck)


def slow_zone() -> Material:
    """Everything in one zone takes four times as long."""

    def slower(case: Case) -> Case:
        if case.zone != "Z3" or not case.restored or not case.started:
            return case
        return case._replace(restored=case.started + 4 * (case.restored - case.started))

    now = county()[2]
    return replace(now, cases=tuple(map(slower, now.cases)))


def high_place() -> Material:
    """Fifteen faults on 200 ballots, among tiny places with one fault each."""
    now = county()[2]
    tiny = {f"P{place:04d}": Turnout(25, 25, 25, None) for place in range(5, 9)}
    cases = tuple(case for case in now.cases if case.place not in tiny)
    more = [fault(f"X{n}", 4, symptom="jam", minute=50 * n) for n in range(15)]
    more += [fault(f"Y{n}", n, minute=95 * n) for n in range(5, 9)]
    turnout = {**now.turnout, "P0004": Turnout(200, 200, 200, None), **tiny}
    return replace(now, cases=(*cases, *more), turnout=turnout)


def benchmark() -> Material:
    """One scanner model jams once in a hundred sheets."""
    now = county()[2]
    ours = [
        int(one.asset.split("-")[-1])
        for one in now.devices
        if one.equipment == "scanner" and one.model == "model 1"
    ]
    jams = [
        fault(f"X{place}-{n}", place, symptom="jam", minute=(37 * place + 101 * n) % 900)
        for place in ours
        for n in range((now.turnout[f"P{place:04d}"].sheets or 0) // 100)
    ]
    return planted(*jams)


def at_once() -> Material:
    """Poll books at eight places all over the county lose their connection within forty minutes."""
    struck = [
        fault(f"X{n}", 7 * n, "epollbook", symptom="will-not-connect", minute=480 + 5 * n)
        for n in range(8)
    ]
    return planted(*struck)


def short_of_people() -> Material:
    """From 07:00 to 08:30 nobody is answered within two minutes."""

    def later(call: Call) -> Call:
        clock = (call.started - BEGIN) / timedelta(hours=1)
        if not 1 <= clock < 2.5 or not call.answered or not call.ended:
            return call
        wait = timedelta(minutes=2)
        return call._replace(answered=call.answered + wait, ended=call.ended + wait)

    return replace(county()[2], calls=tuple(map(later, county()[2].calls)))


@pytest.mark.parametrize(
    ("plant", "key"),
    [
        (bad_batch, "shared:report-printer|batch|B7"),
        (slow_zone, "slow-zone:Z3"),
        (high_place, "high-place:P0004"),
        (benchmark, "misfeeds:model 1"),
        (at_once, "at-once:epollbook|will-not-connect"),
        (short_of_people, "short-of-people:07:00"),
    ],
    ids=lambda one: one if isinstance(one, str) else one.__name__,
)
def test_what_is_planted_is_found(plant: Callable[[], Material], key: str) -> None:
    of, told = found(plant())
    (one,) = [one for one in told if one.key == key]
    assert one.sort == "beyond chance"
    assert one.words
    assert one.sure.startswith(("Chance", "By chance"))
    # The number that is to change next time is in the JSON.
    assert number(of.sections, one.measure) is not None


def trained() -> tuple[Material, Material]:
    """Before, poll books at the places of a group failed five times as often as now."""
    _, last, now = county()
    group = [int(one.id[1:]) for one in now.places.values() if "evening-class" in one.groups]
    more = [
        fault(f"X{place}", place, "epollbook", symptom="slow", minute=13 * place % 900)
        for place in group
    ]
    return now, replace(last, cases=(*last.cases, *more))


def test_training_that_helped_a_group_is_found() -> None:
    _, told = found(*trained())
    (one,) = [one for one in told if one.key == "group:evening-class|epollbook"]
    assert "did better" in one.title
    assert "at the places of 'evening-class' than elsewhere" in one.title


def test_a_change_all_over_the_county_is_not_put_down_to_a_group() -> None:
    _, last, now = county()
    more = [
        fault(f"X{place}", place, "epollbook", symptom="slow", minute=13 * place % 900)
        for place in range(SIZE)
    ]
    told = keys(now, replace(last, cases=(*last.cases, *more)))
    assert "change:epollbook|all" in told
    assert "group:evening-class|epollbook" not in told


def test_neighbouring_half_hours_are_one_finding() -> None:
    told = [one for one in found(short_of_people())[1] if one.method == "hotline"]
    assert [one.title for one in told] == ["The hotline was short of people from 07:00 to 08:30"]
    assert told[0].wanted == "up"


# What is on record


def test_a_shortage_of_spares_is_on_record() -> None:
    now = county()[2]
    spares = (Device(asset="BM-S", equipment="bmd", spare=True),)
    swapped = [fault(f"X{n}", n, "bmd", outcome="device-swapped", minute=100 * n) for n in range(3)]
    of, told = found(planted(*swapped, devices=now.devices + spares))
    (one,) = [one for one in told if one.key == "spares:bmd"]
    assert one.sort == "on record"
    assert one.words.startswith(f"3 of {SIZE} had to be replaced; 1 in store.")
    assert number(of.sections, one.measure) == 3
    enough = found(planted(swapped[0], devices=now.devices + spares))[1]
    assert "spares:bmd" not in {one.key for one in enough}


def test_custody_gaps_are_on_record_before_everything_else() -> None:
    two = frozenset({"una", "rolf"})
    closed = BEGIN + timedelta(minutes=400)
    told = {
        "X1": (Opened("box", BEGIN, closed, frozenset({"una"}), ("K1",)),),
        "X2": (Opened("box", BEGIN, closed, two, ()),),
        "X3": (Opened("box", BEGIN, None, two, ()),),
        "X4": (Opened("box", BEGIN, closed, two, ("K2",)),),
    }
    cases = [fault(f"X{n}", n, "ballot-box", minute=100 * n) for n in range(1, 5)]
    of, made = found(planted(*cases, openings=told))
    one = made[0]
    assert (one.key, one.sort) == ("custody-gaps", "on record")
    assert one.cases == ("X1", "X2", "X3")
    assert of.sections["custody"]["gaps"] == {
        "X1": ["witnesses"],
        "X2": ["seal"],
        "X3": ["closing", "seal"],
    }
    assert number(of.sections, one.measure) == 3


def test_tiny_places_with_one_fault_are_neither_accused_nor_named() -> None:
    of, told = found(high_place())
    assert not {one.place for one in told} & {"P0005", "P0006", "P0007", "P0008"}
    method, words = quiet(of, told)[0]
    assert method == "funnel"
    assert words.endswith("too few to say.")
    assert "P0" not in words
    drawn = funnel(of)
    assert drawn is not None
    assert drawn.svg.count('class="out"') == 1
    assert "P0005" not in drawn.svg


def test_what_does_not_stand_out_is_said_too() -> None:
    of, told = found(county()[2])
    words = dict(quiet(of, told))
    assert words["funnel"] == "No place has more faults than chance explains (120 places)."
    assert set(words) == {
        "funnel", "rates", "restore", "shared", "misfeeds", "alarms", "before-after", "hotline",
        "training",
    }  # fmt: skip
    loud = found(slow_zone())
    assert "restore" not in dict(quiet(*loud))


def test_a_finding_has_one_key() -> None:
    every = [one.key for one in found(bad_batch())[1]]
    assert len(every) == len(set(every))


# Pointers


# RFC 6901, section 5: the example document and what its pointers give, where that is a number.
RFC_6901 = {
    "foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, 'k"l': 6,
    " ": 7, "m~n": 8,
}  # fmt: skip


@pytest.mark.parametrize(
    ("told", "value"),
    [
        ("/", 0), ("/a~1b", 1), ("/c%d", 2), ("/e^f", 3), ("/g|h", 4), ("/i\\j", 5), ('/k"l', 6),
        ("/ ", 7), ("/m~0n", 8),
    ],
)  # fmt: skip
def test_pointers_are_those_of_rfc_6901(told: str, value: int) -> None:
    assert number(RFC_6901, told) == value
    name = next(key for key, one in RFC_6901.items() if one == value)
    assert pointer(name) == told


def test_the_order_in_which_a_tilde_is_read() -> None:
    """RFC 6901, section 4: '~01' is '~1', and not a slash."""
    assert number({"~1": 5, "/": 6}, "/~01") == 5
    assert pointer("~1", "/") == "/~01/~1"


@pytest.mark.parametrize(
    ("told", "value"),
    [
        ("/foo", 2),
        ("/some", 3),
        ("/some/one/deep", 1.5),
        ("/some/nothing", None),
        ("/some/nowhere", None),
        ("/some/one/deep/deeper", None),
        ("/some/text", None),
    ],
)
def test_a_list_counts_and_what_is_not_there_is_none(told: str, value: float | None) -> None:
    some = {"one": {"deep": 1.5}, "nothing": None, "text": "words"}
    assert number(RFC_6901 | {"some": some}, told) == value


def test_what_is_no_pointer() -> None:
    with pytest.raises(ValueError, match="begins with a slash"):
        number(RFC_6901, "foo")


def test_every_measure_of_a_finding_has_words_of_its_own() -> None:
    """An action says what its number is; a pointer is for programs."""
    words = {
        "/rates/per_100_devices/report-printer/rate": (
            "faults per 100 report printers, all of the class"
        ),
        "/misfeeds/models/a~1b/per_1000": "misfeeds per 1,000 sheets of model a/b",
        "/hotline/training/by_phase_and_zone/set-up|West/per_100_calls": (
            "questions per 100 calls in the phase set-up, zone West"
        ),
        "/nothing/of/ours": "/nothing/of/ours",
    }
    assert {one: measured(one) for one in words} == words
    *earlier, last = elections(1, 60)
    for finding in findings(review(last, earlier)):
        assert not measured(finding.measure).startswith("/"), finding.key
