"""What the findings claim: no more than their tests support. All is invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from kb.incidents.places import Place
from kb.review.findings.board import findings, quiet
from kb.review.findings.finding import Finding
from kb.review.methods import METHODS
from kb.review.rows import Call, Case, Material
from kb.review.sections import review
from tests.review.making import case, material, turnout
from tests.review.test_findings import county


def test_what_was_never_compared_is_not_called_quiet() -> None:
    """No test, no evidence: one zone, no devices, no sheets, no calls, no earlier election."""
    _, _, now = county()
    one_zone = {name: place.model_copy(update={"zone": "Z"}) for name, place in now.places.items()}
    cases = tuple(one._replace(zone="Z") for one in now.cases)
    bare = replace(now, places=one_zone, cases=cases, devices=(), turnout={}, calls=())
    of = review(bare)
    words = dict(quiet(of, findings(of)))
    assert words["funnel"] == "Places cannot be compared: no ballots are known."
    assert words["restore"].startswith("Times to restore are not compared")
    assert words["shared"].startswith("Nothing that devices share could be compared")
    assert words["misfeeds"].startswith("No sheets are known")
    assert words["hotline"] == "No calls are known; import the telephone list."
    assert words["alarms"].endswith("without an earlier election.")
    assert "rates" not in words


def test_zones_too_small_to_test_enter_the_adjustment_all_the_same() -> None:
    """Else a zone would be picked by the very count that is tested."""
    zones = 20
    places = {f"P{n}": Place(place=f"P{n}", name=str(n), zone=f"Z{n:02d}") for n in range(zones)}
    counts = [12 if n == 0 else 4 for n in range(zones)]
    cases = tuple(
        case(f"C{n}-{k}", place=f"P{n}", zone=f"Z{n:02d}", equipment="scanner", effect="device")
        for n, count in enumerate(counts)
        for k in range(count)
    )
    of = material(cases, places=places, turnout=turnout(dict.fromkeys(places, 500)))
    assert not [one for one in findings(review(of)) if one.key.startswith("high-zone")]


def groups_of(ours: tuple[int, int], theirs: tuple[int, int]) -> list[Finding]:
    """The group findings where so many faults were before and after, inside and outside."""
    _, last, now = county()

    def with_faults(of: Material, inside: int, outside: int) -> Material:
        member = [name for name, place in of.places.items() if "evening-class" in place.groups]
        others = [name for name in of.places if name not in member]
        cases = [
            case(f"{name}-{number}", place=name, equipment="epollbook", effect="device")
            for names, count in ((member, inside), (others, outside))
            for number, name in enumerate(names[n % len(names)] for n in range(count))
        ]
        return replace(of, cases=tuple(cases))

    told = findings(
        review(with_faults(now, ours[1], theirs[1]), [with_faults(last, ours[0], theirs[0])])
    )
    return [one for one in told if one.key == "group:evening-class|epollbook"]


@pytest.mark.parametrize(
    ("ours", "theirs", "word"),
    [
        ((60, 6), (60, 60), "better"),
        # It stayed and the others fell: that is worse, whatever its own number did.
        ((60, 60), (240, 30), "worse"),
        ((60, 45), (240, 20), "worse"),
        # It stayed and the others rose: better.
        ((60, 60), (40, 300), "better"),
    ],
)
def test_a_group_is_judged_beside_the_others(
    ours: tuple[int, int], theirs: tuple[int, int], word: str
) -> None:
    (one,) = groups_of(ours, theirs)
    assert f"did {word} since" in one.title


def test_the_faster_zone_is_never_called_slow() -> None:
    """Where most stay open no median says which was slower; the log-rank does."""
    places = {name: Place(place=name, name=name, zone=name) for name in ("A", "B")}
    begin = datetime(2026, 5, 5, 12, tzinfo=UTC)

    def lasting(zone: str, number: int, minutes: float | None) -> Case:
        ended = begin + timedelta(minutes=minutes) if minutes else None
        return case(
            f"{zone}{number}", place=zone, zone=zone, equipment="scanner", effect="device",
            started=begin, reported=begin, restored=ended,
        )  # fmt: skip

    cases = [lasting("A", n, 5 + n / 7 if n < 28 else None) for n in range(60)]
    cases += [lasting("B", n, 60 + n if n < 12 else None) for n in range(60)]
    told = [one.key for one in findings(review(material(cases, places=places)))]
    assert "slow-zone:B" in told
    assert "slow-zone:A" not in told


def test_calls_whose_times_cannot_be_are_in_no_count_of_the_finding() -> None:
    begin = datetime(2026, 5, 5, 12, tzinfo=UTC)

    def call(number: int, wait: float) -> Call:
        at = begin + timedelta(seconds=20 * number)
        answered = at + timedelta(seconds=wait)
        return Call(f"K{number}", None, at, answered, answered + timedelta(seconds=90), None)

    calls = [call(n, -5) for n in range(20)] + [
        call(20 + n, 5 if n % 8 == 0 else 300) for n in range(40)
    ]
    told = findings(review(material(calls=tuple(calls))))
    (one,) = [one for one in told if one.method == "hotline"]
    assert one.words.startswith("5 of 40 calls were answered within 20 seconds")


@pytest.mark.parametrize("seed", range(30))
def test_figures_of_any_county_can_be_drawn(seed: int) -> None:
    """Few faults, equal places, one place: no figure fails, and nothing is outside its plane."""
    random = np.random.default_rng(seed)
    size = int(random.integers(1, 60))
    ballots = random.integers(1, 1500, size) if seed % 3 else np.full(size, 700)
    places = {f"P{n:02d}": Place(place=f"P{n:02d}", name=str(n), zone="Z") for n in range(size)}
    faults = random.poisson(random.uniform(0, 3) * ballots / 1000)
    cases = [
        case(f"C{n}-{k}", place=f"P{n:02d}", zone="Z", equipment="scanner", effect="device",
             started=datetime(2026, 5, 5, 12, tzinfo=UTC))
        for n in range(size)
        for k in range(int(faults[n]))
    ]  # fmt: skip
    voters = turnout({f"P{n:02d}": int(ballots[n]) for n in range(size)})
    of = review(material(cases, places=places, turnout=voters))
    for method in METHODS:
        for figure in method.drawn(of):
            ET.fromstring(figure.svg)
            assert "nan" not in figure.svg
            assert "inf" not in figure.svg.replace("info", "")
        list(method.tables(of))


def test_places_alike_lie_on_their_limits_and_not_outside() -> None:
    places = {f"P{n}": Place(place=f"P{n}", name=str(n), zone="Z") for n in range(7)}
    cases = [
        case(f"C{n}{k}", place=f"P{n}", equipment="scanner", effect="device")
        for n in range(7)
        for k in range(2)
    ]
    of = material(cases, places=places, turnout=turnout(dict.fromkeys(places, 700)))
    charts = review(of).sections["charts"]
    assert charts["laney_above"] == charts["laney_below"] == []
