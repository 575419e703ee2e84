"""Random stories for property tests: several cases in two elections, told out of order."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from kb.incidents.corrections import TWO_PERSONS
from kb.incidents.events import Event
from kb.incidents.kinds import FINAL
from tests.incidents.telling import HASH, event

CASES = {"a": "e26", "b": "e26", "old": "e24"}
_text = st.sampled_from(["x", "lid open", "größer"])

BODIES: dict[str, st.SearchStrategy[dict[str, Any]]] = {
    "incident.reported": st.fixed_dictionaries(
        {}, optional={"place": st.sampled_from(["P01", "P02"]), "phase": st.just("voting"),
                      "equipment": st.just("scanner")}),
    "incident.described": st.fixed_dictionaries(
        {}, optional={"effect": st.sampled_from(["stopped", "slowed", "device", "none"]),
                      "flags": st.lists(st.sampled_from(["custody", "access"])),
                      "wait_minutes": st.integers(0, 60), "words": _text,
                      "style_stopped": st.booleans()}),
    "search.picked": st.fixed_dictionaries({"article": st.sampled_from(["jam", "lid"])}),
    "tree.answered": st.fixed_dictionaries(
        {"tree": st.just("jam"), "hash": st.just(HASH), "step": st.sampled_from("stu"),
         "answer": st.sampled_from(["yes", "no"])}, optional={"walk": st.sampled_from("vw")}),
    "rover.sent": st.fixed_dictionaries({"rover": st.sampled_from(["ro01", "ro02"])}),
    "rover.arrived": st.fixed_dictionaries({"rover": st.just("ro01")}),
    "seal.removed": st.fixed_dictionaries({"seal": st.sampled_from(["K1", "K2"])}),
    "compartment.opened": st.fixed_dictionaries({"compartment": st.sampled_from(["bin", "lid"])}),
    "compartment.closed": st.fixed_dictionaries({"compartment": st.sampled_from(["bin", "lid"])}),
    "counter.read": st.fixed_dictionaries({"public": st.integers(0, 9)}),
    "note.added": st.fixed_dictionaries({"text": _text}),
    "voting.restored": st.just({"outcome": "fixed-on-site"}),
    "incident.closed": st.fixed_dictionaries({}, optional={"cause": st.just("wear")}),
    "incident.reopened": st.just({}),
    "incident.merged": st.sampled_from([{"into": "a"}, {"parent": "b"}]),
    "hold.placed": st.just({}),
    "place.opened": st.fixed_dictionaries({"place": st.sampled_from(["P01", "P02"])}),
    "materials.left": st.fixed_dictionaries({"place": st.just("P01"), "seals": st.just(["K1"])}),
}  # fmt: skip
LOOSE = {"place.opened", "materials.left"}


def _scope(kind: str, case: str) -> dict[str, Any]:
    return {"election": CASES[case], "incident": None if kind in LOOSE else case}


@st.composite
def stories(draw: st.DrawFn, cases: tuple[str, ...] = tuple(CASES)) -> list[Event]:
    """Up to 14 events of these cases, with corrections, strikings and withholdings among them."""
    told: list[Event] = []
    for place in range(draw(st.integers(1, 14))):
        timing = {
            "minute": draw(st.integers(0, 5)),
            "skew": draw(st.sampled_from([0, 0, 1, 5, -5])),
            "received": draw(st.sampled_from([5, 6, 7])),
            "id": f"00000000-0000-4000-8000-{draw(st.integers(0, 0xFFFFFF)):06x}{place:06x}",
        }
        about = bool(told) and draw(st.booleans())
        told.append(draw(_about(told, timing) if about else _plain(cases, timing)))
    return told


@st.composite
def _plain(draw: st.DrawFn, cases: tuple[str, ...], timing: dict[str, Any]) -> Event:
    kind = draw(st.sampled_from(sorted(BODIES)))
    scope = _scope(kind, draw(st.sampled_from(cases)))
    return event(kind, draw(BODIES[kind]), **timing, **scope)


@st.composite
def _about(draw: st.DrawFn, told: list[Event], timing: dict[str, Any]) -> Event:
    """A correction or a withholding of something told before, perhaps of a correction."""
    target = draw(st.sampled_from(told))
    scope: dict[str, Any] = {"election": target.election, "incident": target.incident}
    meant = _meant(told, target)
    if meant.kind in FINAL or draw(st.booleans()):
        body: dict[str, Any] = {"event": target.id, "reason": "r"}
        return event("text.withheld", body, **timing, **scope)
    replacement = draw(st.one_of(BODIES[meant.kind], st.none()))
    body = {"event": target.id, "replacement": replacement}
    if meant.kind in TWO_PERSONS:
        # By one person alone it can only be asked for; that changes nothing.
        return event("correction.asked", body | {"reason": "r"}, **timing, **scope)
    return event("event.corrected", body, **timing, **scope)


def _meant(told: list[Event], target: Event) -> Event:
    while target.kind == "event.corrected":
        target = next(one for one in told if one.id == target.body["event"])
    return target
