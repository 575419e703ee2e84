"""Properties over random stories: order of arrival, repetition and rebuilding change nothing."""

from __future__ import annotations

import tempfile
from pathlib import Path
from random import Random

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kb.base.database import Store
from kb.incidents.events import Event, from_json
from kb.incidents.fold import fold
from kb.incidents.rows import columns_of, row_of
from kb.incidents.store import Record
from tests.incidents.stories import CASES, stories
from tests.incidents.telling import county

few = settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
many = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@many
@given(stories(("a",)), st.randoms(use_true_random=False))
def test_fold_is_the_same_for_any_order_and_with_repetitions(
    told: list[Event], random: Random
) -> None:
    told = [event for event in told if event.incident == "a"]
    again = told + random.sample(told, k=len(told) // 2)
    random.shuffle(again)
    assert fold(again) == fold(told)


@many
@given(stories())
def test_an_event_survives_its_json(told: list[Event]) -> None:
    assert [from_json(event.to_json()) for event in told] == told


@many
@given(stories(("a",)))
def test_a_row_survives_its_columns(told: list[Event]) -> None:
    incident = fold(event for event in told if event.incident == "a")
    row = row_of(columns_of(incident, 7) | {"place_name": None, "zone": None})
    assert (row.id, row.flags, row.first) == (incident.id, incident.flags, incident.first)
    assert (row.status, row.effect, row.restored) == (
        incident.status,
        incident.effect,
        incident.restored,
    )


def arrive(folder: Path, name: str, batches: list[list[Event]]) -> tuple[Record, Store]:
    store = Store(folder / name)
    record = Record(store)
    record.append(county())
    for batch in batches:
        record.append(batch)
    return record, store


@few
@given(stories(), st.data())
def test_rebuilt_equals_live_and_arrival_does_not_matter(
    told: list[Event], data: st.DataObject
) -> None:
    """Told one by one in one order, and in two batches in another."""
    shuffled = data.draw(st.permutations(told))
    cut = data.draw(st.integers(0, len(told)))
    with tempfile.TemporaryDirectory() as folder:
        one, first = arrive(Path(folder), "one.db", [[event] for event in told])
        two, second = arrive(Path(folder), "two.db", [shuffled[:cut], shuffled[cut:]])
        for record in (one, two):
            live = record.digest()
            assert record.rebuild() == record.size() == len(county()) + len(told)
            assert record.digest() == live
        for case in CASES:
            assert one.incident(case) == two.incident(case)
        for election in ("e24", "e26"):
            assert one.marks(election) == two.marks(election)
        first.close()
        second.close()


def test_the_digest_sees_a_difference(record: Record) -> None:
    before = record.digest()
    record._store.write(lambda database: database.execute("UPDATE places SET zone = 'south'"))
    assert record.digest() != before
    record.rebuild()
    assert record.digest() == before
