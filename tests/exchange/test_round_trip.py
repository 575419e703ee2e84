"""What goes out comes back the same: export, import into an empty folder, export again.

RFC 4180 for the form. That spreadsheets run a cell which begins with = + - or @ is common
knowledge of those who export tables; one apostrophe in front is the usual guard.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kb.base.errors import Problems
from kb.exchange import csv_out
from kb.exchange.csv_in import read
from kb.exchange.outgoing_store import (
    export_events,
    export_table,
    import_events,
    template,
)
from kb.exchange.store import Report, import_table
from kb.exchange.tables import PLACES, TABLES, header
from kb.incidents.store.folder import Folder, create, open_folder
from tests.exchange.conftest import MANAGER
from tests.incidents.telling import entry, person

Take = Callable[..., Report]
# In the order in which a county loads them.
ORDER = ("people", "elections", "places", "equipment", "shifts", "exposure", "incidents", "calls")
OF_ELECTION = ("exposure", "incidents", "calls")
MORE = {
    "people": 'login,name,role,zone,phone\nh.one,"Ha, One",hotline lead,,+1 555 0142\n',
    "shifts": (
        "person,starts_at,ends_at\n"
        "h.one,2026-11-03T05:00:00-05:00,2026-11-03T13:00:00-05:00\n"
        "gone,2026-11-03T13:00:00-05:00,2026-11-03T21:30:00-05:00\n"
    ),
    "exposure": (
        "place,date,opened_at,closed_at,ballots,sheets,checkins\n"
        "P02,2026-11-03,,2026-11-03T20:10:00-05:00,402,,404\n"
        "P01,2026-11-03,2026-11-03T07:00:00-05:00,,,,\n"
    ),
    "incidents": (
        ",".join(header("incidents"))
        + "\nB-2,P01,SC-1,scanner,jam,voting,slowed,custody ballots,2026-11-03T08:00:00-05:00,"
        "2026-11-03T08:04:00.250-05:00,,,2026-11-03T08:21:00-05:00,fixed-by-phone,paper,"
        'ballot-jam-count-unknown,1,3,"\'=stuck, she said","first line\nsecond ""line""",,likely\n'
        "A-1,,,,,,,,,,,,,,,,,,,,,\n"
        "C-3,P01,SC-77,scanner,jam,voting,,,,2026-11-03T08:30:00-05:00,,,,duplicate,,,,,,,B-2,\n"
    ),
    "calls": (
        "call,place,started_at,answered_at,ended_at,incident\n"
        "c2,P01,2026-11-03T08:00:00-05:00,,2026-11-03T08:01:00-05:00,\n"
        "c1,P01,2026-11-03T08:03:00-05:00,2026-11-03T08:03:20-05:00,,B-2\n"
    ),
}
EVENTS = (
    '{"incident":"B-2","kind":"compartment.opened","happened":"2026-11-03T08:05:00-05:00",'
    '"actor":"h.one","body":{"compartment":"emergency compartment"}}\n'
    '{"kind":"place.opened","happened":"2026-11-03T07:00:00-05:00","actor":"r.gone",'
    '"body":{"place":"P01","seals":["K1"]}}\n'
)


@pytest.fixture
def full(loaded: Take, folder: Folder, tmp_path: Path) -> Folder:
    """A county with every table filled."""
    for kind, text in MORE.items():
        loaded(kind, text, election="E2" if kind in OF_ELECTION else None)
    (tmp_path / "events.jsonl").write_text(EVENTS)
    import_events(
        folder.record, folder.people, tmp_path / "events.jsonl", actor=MANAGER, election="E2"
    )
    return folder


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Folder]:
    create(tmp_path / "other", "")
    opened = open_folder(tmp_path / "other")
    yield opened
    opened.close()


def exports(folder: Folder) -> dict[str, bytes]:
    found = {
        kind: export_table(
            folder.record, folder.people, kind, "E2" if kind in OF_ELECTION else None
        )
        for kind in ORDER
    }
    return found | {"events": export_events(folder.record, "E2")}


def copy(files: dict[str, bytes], into: Folder, scratch: Path) -> None:
    for kind, data in files.items():
        path = scratch / f"{kind}.out"
        path.write_bytes(data)
        election = "E2" if kind in (*OF_ELECTION, "events") else None
        if kind == "events":
            import_events(into.record, into.people, path, actor=MANAGER, election=election)
        else:
            import_table(
                into.record, into.people, kind, path, actor=MANAGER, election=election,
                classes={"scanner", "report-printer"},
            )  # fmt: skip


def test_every_table_and_the_events_come_back_byte_for_byte(
    full: Folder, other: Folder, tmp_path: Path
) -> None:
    first = exports(full)
    assert set(first) == {*TABLES, "events"}
    assert all(data.count(b"\n") > 1 for data in first.values())
    copy(first, other, tmp_path)
    assert exports(other) == first


def test_a_case_that_was_worked_here_goes_out_flat_and_comes_back_the_same(
    full: Folder, other: Folder, tmp_path: Path
) -> None:
    lead = person("hotline", "lead", "rover", login="h.one")
    told = [
        entry("incident.reported", {"place": "P01", "equipment": "scanner", "asset": "SC-1"}),
        entry("incident.described", {"effect": "stopped", "symptom": "jam", "words": "-it hums"}),
        entry("note.added", {"text": "one"}, minute=1),
        entry("note.added", {"text": "two"}, minute=2),
        entry("counter.read", {"asset": "SC-1", "public": 12, "moment": "before"}, minute=3),
        entry("search.picked", {"article": "lid", "words": "-it hums"}, minute=3),
        entry("incident.described", {"effect": "device"}, minute=4),
        entry("voting.restored", minute=5),
        entry("incident.closed", {"outcome": "fixed-by-phone", "cause": "paper"}, minute=6),
    ]
    receipts = full.record.take([{**one, "election": "E2"} for one in told], lead)
    assert {one.state for one in receipts} == {"new"}
    first = exports(full)
    assert b"'-it hums" in first["incidents"]
    assert b'"one\ntwo"' in first["incidents"]
    copy(first, other, tmp_path)
    assert exports(other) == first
    # Twice changes nothing.
    copy(first, other, tmp_path)
    assert exports(other) == first


@pytest.mark.parametrize("kind", TABLES)
def test_an_empty_file_has_the_columns_and_imports(kind: str) -> None:
    data = template(kind)
    assert data.decode().strip() == ",".join(header(kind))
    kinds = ("place", "asset", "equipment", "incident", "person", "")
    nothing = {name: frozenset[str]() for name in kinds}
    assert read(data, "t.csv", TABLES[kind], nothing).rows == ()


@given(st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), min_size=1))
@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
def test_any_text_comes_back_and_none_is_live(text: str) -> None:
    data = csv_out.write(PLACES, [{"place": "P1", "name": text}])
    (cells,) = list(csv.reader(io.StringIO(data.decode(), newline="")))[1:]
    assert cells[1][:1] not in {"=", "+", "-", "@", "\t", "\r"}
    (row,) = read(data, "places.csv", PLACES, {}).rows
    assert row.values["name"] == text


def test_events_of_an_unknown_case_kind_or_election_are_refused_together(
    full: Folder, tmp_path: Path
) -> None:
    path = tmp_path / "bad.jsonl"
    path.write_text(
        '{"incident":"X-9","kind":"counter.read","happened":"2026-11-03T08:05:00-05:00","body":{}}\n'
        '{"kind":"no.such","happened":"2026-11-03T08:05:00-05:00","body":{}}\n'
        '{"election":"E1","kind":"place.opened","happened":"2026-11-03T08:05:00Z","body":{"place":"P01"}}\n'
        '{"kind":"place.opened","happened":"2026-11-03T08:05:00","body":{"place":"P01"}}\n'
        '{"kind":"place.recorded","happened":"2026-11-03T08:05:00Z","body":{}}\n'
        "[1]\nnot json\n"
        '{"kind":"place.opened","kind":"place.closed"}\n'
    )
    size = full.record.size()
    with pytest.raises(Problems) as caught:
        import_events(full.record, full.people, path, actor=MANAGER, election="E2")
    assert {problem.line for problem in caught.value.problems} == set(range(1, 9))
    assert full.record.size() == size
