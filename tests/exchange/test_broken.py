"""Broken files: each gets a clear message with its line, and nothing of it is taken.

What can be wrong with a table or with lines of events: encodings, quoting, headers, ids, times
without an offset, a leap second where none can be (RFC 3339, section 5.7), huge lines.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.base.errors import Problems
from kb.exchange.outgoing_store import import_events
from kb.incidents.store.folder import Folder
from tests.exchange.conftest import FILES, Take
from tests.exchange.conftest import MANAGER as WHO

PLACES = FILES["places"].encode()
HEAD = PLACES.split(b"\n")[0] + b"\n"
GOOD = b"P09,Good Hall,,,,,,,,,,\n"
EXPOSURE = b"place,date,opened_at,closed_at,ballots,sheets,checkins\n"
SHIFTS = b"person,starts_at,ends_at\n"
CALLS = b"call,place,started_at,answered_at,ended_at,incident\n"

# name: kind, bytes, line of the fault, what the message says.
TABLES: dict[str, tuple[str, bytes, int, str]] = {
    "UTF-16": ("places", PLACES.decode().encode("utf-16"), 1, "not UTF-8"),
    "UTF-16 without a mark": ("places", PLACES.decode().encode("utf-16-le"), 1, "is no column"),
    "Latin-1": ("places", HEAD + GOOD + "P10,Café,,,,,,,,,,\n".encode("latin-1"), 3, "not UTF-8"),
    "cut in the middle of a sign": ("places", HEAD + "P10,Café".encode()[:-1], 2, "not UTF-8"),
    "a zero byte": ("places", HEAD + b"P10,Ha\0ll,,,,,,,,,,\n", 2, "code 0"),
    "an open quote": ("places", HEAD + b'P10,"Hall,,,,,,,,,,\n', 2, "quotes"),
    "a quote inside": ("places", HEAD + b'P10,"Ha"ll,,,,,,,,,,\n', 2, "quotes"),
    "semicolons": ("places", PLACES.replace(b",", b";"), 1, "is no column"),
    "tabs": ("places", PLACES.replace(b",", b"\t"), 1, "is no column"),
    "nothing at all": ("places", b"", 1, "is empty"),
    "a mark and nothing": ("places", b"\xef\xbb\xbf", 1, "is empty"),
    "no header": ("places", GOOD, 1, "is no column"),
    "a header in capitals": ("places", HEAD.upper() + GOOD, 1, "is no column"),
    "a cell too few": ("places", HEAD + b"P10,Hall\n", 2, "cells"),
    "a cell too many": ("places", HEAD + GOOD.replace(b"\n", b",x\n"), 2, "cells"),
    "the same id twice": ("places", HEAD + GOOD + GOOD, 3, "stands already on line 2"),
    "an id with a space": ("places", HEAD + b"P 1,Hall,,,,,,,,,,\n", 2, "is not an id"),
    "a formula as an id": ("places", HEAD + b"=1+1,Hall,,,,,,,,,,\n", 2, "is not an id"),
    "a formula as a phone": ("places", HEAD + b"P10,H,,,,,=1+1,,,,,\n", 2, "is not a phone number"),
    "a number with a comma": ("places", HEAD + b'P10,H,,,,,,,,,"1,000",\n', 2, "whole number"),
    "digits of another script": (
        "places", HEAD + "P10,H,,,,,,,,,١٢,\n".encode(), 2, "whole number",
    ),
    "a latitude beyond the pole": ("places", HEAD + b"P10,H,,91,0,,,,,,,\n", 2, "degrees"),
    "half past twenty-four": ("places", HEAD + b"P10,H,,,,,,24:30,,,,\n", 2, "time of day"),
    "a cell of 10 MB": ("places", HEAD + b"P10," + b"x" * 10_000_000 + b",,,,,,,,,,\n", 2, "limit"),
    "a place nobody knows": ("exposure", EXPOSURE + b"P77,2026-11-03,,,,,\n", 2, "no place"),
    "a time without an offset": (
        "exposure", EXPOSURE + b"P01,2026-11-03,2026-11-03T07:00:00,,,,\n", 2, "offset",
    ),
    "a leap second that cannot be": (
        "exposure", EXPOSURE + b"P01,2026-11-03,2026-11-03T07:00:60Z,,,,\n", 2, "leap second",
    ),
    "the 30th of February": ("exposure", EXPOSURE + b"P01,2026-02-30,,,,,\n", 2, "not a date"),
    "a date of another order": ("exposure", EXPOSURE + b"P01,11/03/2026,,,,,\n", 2, "not a date"),
    "a count below zero": ("exposure", EXPOSURE + b"P01,2026-11-03,,,-4,,\n", 2, "whole number"),
    "a shift without an end": ("shifts", SHIFTS + b"h.one,2026-11-03T07:00:00Z,\n", 2, "empty"),
    "a call of an unknown case": (
        "calls", CALLS + b"c1,P01,2026-11-03T07:00:00Z,,,I-404\n", 2, "no incident",
    ),
}  # fmt: skip

# name: one line of events, what the message says.
EVENTS: dict[str, tuple[bytes, str]] = {
    "not JSON": (b"{'kind': 1}", "not JSON"),
    "a number too large": (b'{"kind": 1e999, "kind2": NaN}', "kind"),
    "an array": (b"[]", "not a JSON object"),
    "a member twice": (b'{"kind":"x","kind":"y"}', "stands twice"),
    "nested without end": (b"[" * 100_000, "not JSON"),
    "10 MB": (b'{"kind":"' + b"x" * 10_000_000 + b'"}', "bytes"),
    "Latin-1": ('{"kind":"é"}'.encode("latin-1"), "not JSON in UTF-8"),
    "no kind": (b'{"happened":"2026-11-03T07:00:00Z","body":{}}', "kind"),
    "no time": (b'{"kind":"place.opened","body":{"place":"P01"}}', "happened"),
    "a time without an offset": (
        b'{"kind":"place.opened","happened":"2026-11-03T07:00:00","body":{"place":"P01"}}',
        "offset",
    ),
    "a body that is no object": (
        b'{"kind":"place.opened","happened":"2026-11-03T07:00:00Z","body":7}', "body",
    ),
    "a member that the kind does not have": (
        b'{"kind":"place.opened","happened":"2026-11-03T07:00:00Z","body":{"place":"P1","x":1}}',
        "not part of place.opened",
    ),
    **{
        f"an entry about an entry: {kind}": (
            b'{"kind":"%s","happened":"2026-11-03T07:00:00Z","body":{}}' % kind.encode(),
            f"events.jsonl:2 EVT04 kind: {kind} is an entry about an entry",
        )
        for kind in (
            "event.corrected", "correction.asked", "correction.refused", "text.withheld",
            "text.cleared", "hold.placed", "hold.lifted",
        )
    },
    "a kind that a table's row says": (
        b'{"kind":"note.added","happened":"2026-11-03T07:00:00Z","body":{"text":"x"}}',
        "note.added is not brought by a file of events",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", TABLES)
def test_a_broken_table_is_told_and_not_taken(name: str, loaded: Take, folder: Folder,
                                              tmp_path: Path) -> None:  # fmt: skip
    kind, data, line, says = TABLES[name]
    path = tmp_path / "broken.csv"
    path.write_bytes(data)
    size = folder.record.size()
    with pytest.raises(Problems) as caught:
        loaded(kind, None, path=path, election="E2" if kind in {"exposure", "calls"} else None)
    assert any(
        problem.line == line and says in str(problem) for problem in caught.value.problems
    ), [str(problem)[:200] for problem in caught.value.problems]
    assert all(len(str(problem)) < 1_000 for problem in caught.value.problems)
    assert folder.record.size() == size


@pytest.mark.usefixtures("loaded")
@pytest.mark.parametrize("name", EVENTS)
def test_a_broken_line_of_events_is_told_and_nothing_is_taken(
    name: str, folder: Folder, tmp_path: Path
) -> None:
    line, says = EVENTS[name]
    good = b'{"kind":"place.opened","happened":"2026-11-03T07:00:00Z","body":{"place":"P01"}}\n'
    path = tmp_path / "events.jsonl"
    path.write_bytes(good + line + b"\n")
    size = folder.record.size()
    with pytest.raises(Problems) as caught:
        import_events(folder.record, folder.people, path, actor=WHO, election="E2")
    assert {problem.line for problem in caught.value.problems} == {2}
    assert any(says in str(problem) for problem in caught.value.problems)
    assert folder.record.size() == size
