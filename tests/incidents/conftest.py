from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from kb.base.database import Store
from kb.incidents.store import Record
from tests.incidents.telling import county


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    store = Store(tmp_path / "county.db")
    yield store
    store.close()


@pytest.fixture
def empty(store: Store) -> Record:
    return Record(store)


@pytest.fixture
def record(empty: Record) -> Record:
    """A record that knows the invented county."""
    assert {receipt.state for receipt in empty.append(county())} == {"new"}
    return empty
