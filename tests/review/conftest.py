"""Rows of a list of which a test tells only what matters to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from typing import Any

import pytest

from kb.incidents.rows import Row

Make = Callable[..., Row]


@pytest.fixture
def row() -> Make:
    """A row with nothing known but its id, and what the test says."""

    def make(identifier: str, **known: Any) -> Row:
        blank: dict[str, Any] = {field.name: None for field in fields(Row)}
        blank |= {"id": identifier, "election": "E1", "number": 1, "status": "open"}
        return Row(**blank | {"flags": frozenset()} | known)

    return make
