"""events.jsonl: what a row of incidents.csv cannot carry, one ledger event a line.

Each line is a JSON object with incident, kind, happened, actor and body, and perhaps election.
Going out, an entry says what it says now: corrected, without what was struck out, redacted
where it was redacted. What the table's row says already is not told twice.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import rfc8785

from kb.base.clock import format_instant
from kb.base.errors import Problem, Problems
from kb.incidents.events import Event
from kb.incidents.intake import imported
from kb.incidents.kinds import CORRECTED, FINAL, KINDS, MARKS
from kb.incidents.order import Entry

CARRIED = frozenset(
    {
        "call.offered",
        "call.answered",
        "call.ended",
        "search.picked",
        "tree.answered",
        "seal.removed",
        "seal.applied",
        "compartment.opened",
        "compartment.closed",
        "counter.read",
        "witness.named",
        "ballots.moved",
        "ballots.tallied",
        "device.swapped",
        "decision.made",
        "place.reconciled",
        *MARKS,
    }
)
_CARRIES = ", ".join(sorted(CARRIED))
LONGEST_LINE = 1_000_000


@dataclass(frozen=True)
class Lines:
    """What was read: the events, and what to be warned about."""

    events: tuple[Event, ...]
    warnings: tuple[Problem, ...]


@dataclass(frozen=True)
class Known:
    """What lines may name: the cases of the election (file's name to record's id), the people."""

    election: str
    cases: Mapping[str, str]
    logins: Collection[str]


def read(data: bytes, where: str, known: Known, importer: str, now: datetime) -> Lines:
    """Read a file. Raises Problems with every fault of every line."""
    problems: list[Problem] = []
    events: list[Event] = []
    warnings: dict[str, Problem] = {}
    for number, line in _objects(data, where, problems):
        found = _scope(line, where, number, known)
        problems += found
        if found:
            continue
        told = line | {"election": known.election}
        if line.get("incident"):
            told["incident"] = known.cases[str(line["incident"])]
        try:
            event = imported(told, importer=importer, received=now, where=where)
        except Problems as error:
            problems += [replace(problem, line=number) for problem in error.problems]
            continue
        events.append(event)
        if event.actor not in known.logins and event.actor != importer:
            message = f"no person '{event.actor}' is known; the entry is kept"
            warnings.setdefault(
                event.actor, Problem(where, number, "EVT05", message, "actor", warning=True)
            )
    if problems:
        raise Problems(problems)
    return Lines(tuple(events), tuple(warnings.values()))


def write(entries: Iterable[Entry], names: Mapping[str, str]) -> bytes:
    """The lines of these entries that a table does not carry, in the order they happened.

    `names`: what files call the cases, by the record's id.
    """
    told = [entry for entry in entries if entry.kind in CARRIED and not entry.struck]
    lines = [(entry.at, rfc8785.dumps(_line(entry, names))) for entry in told]  # type: ignore[arg-type]
    # By the line itself where two happened at once: the same order whatever their ids are.
    return b"".join(line + b"\n" for _, line in sorted(lines))


def _line(entry: Entry, names: Mapping[str, str]) -> dict[str, object]:
    incident = entry.event.incident
    scope = {"incident": names[incident]} if incident else {}
    return scope | {
        "election": entry.event.election,
        "kind": entry.kind,
        "happened": format_instant(entry.at),
        "actor": entry.actor,
        "body": dict(entry.body),
    }


def _objects(
    data: bytes, where: str, problems: list[Problem]
) -> Iterator[tuple[int, dict[str, object]]]:
    """Each line that is a JSON object, with its number; what is wrong goes to `problems`."""
    for number, line in enumerate(data.removeprefix(b"\xef\xbb\xbf").split(b"\n"), 1):
        if not line.strip():
            continue
        if len(line) > LONGEST_LINE:
            message = f"has {len(line)} bytes; a line has at most {LONGEST_LINE}"
            problems.append(Problem(where, number, "EVT01", message))
            continue
        try:
            told = json.loads(line.decode("utf-8"), object_pairs_hook=_once)
        except (ValueError, RecursionError) as error:
            problems.append(Problem(where, number, "EVT01", f"is not JSON in UTF-8: {error}"))
            continue
        if isinstance(told, dict):
            yield number, told
        else:
            problems.append(Problem(where, number, "EVT01", "is not a JSON object"))


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    members = dict(pairs)
    if len(members) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"the member '{twice}' stands twice")
    return members


def _scope(line: Mapping[str, object], where: str, number: int, known: Known) -> list[Problem]:
    """Faults of a line's election and incident, and a kind that these lines do not carry."""
    found = []
    if line.get("election", known.election) != known.election:
        message = f"election: '{line['election']}' is not '{known.election}', which was named"
        found.append(Problem(where, number, "EVT02", message, "election"))
    if line.get("incident") and line["incident"] not in known.cases:
        message = f"incident: no incident is called '{line['incident']}'; import incidents first"
        found.append(Problem(where, number, "EVT03", message, "incident"))
    kind = line.get("kind")
    if isinstance(kind, str) and kind in KINDS and kind not in CARRIED:
        message = f"kind: {kind} {_why_not_carried(kind)}"
        found.append(Problem(where, number, "EVT04", message, "kind"))
    return found


def _why_not_carried(kind: str) -> str:
    """Why a file of events does not bring this kind, and what to do."""
    if kind.endswith(".recorded") or kind == "incident.imported":
        return "is a row of a table; import it as CSV"
    if kind == CORRECTED or kind in FINAL:
        return (
            "is an entry about an entry, which a file never brings: take the line out, and "
            "have somebody whose role may enter it do so on the pages"
        )
    return f"is not brought by a file of events; take the line out (it brings: {_CARRIES})"
