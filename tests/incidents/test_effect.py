from __future__ import annotations

import pytest

from kb.incidents.effect import effect_of, worst


@pytest.mark.parametrize(
    ("said", "facts", "expected"),
    [
        (None, {}, None),
        ("none", {}, "none"),
        ("device", {"wait_minutes": 30}, "device"),
        ("device", {"wait_minutes": 31}, "slowed"),
        (None, {"contingency": True}, "slowed"),
        ("device", {"style_stopped": True}, "stopped"),
        ("stopped", {"contingency": True}, "stopped"),
    ],
)
def test_effect_is_the_worst_of_what_is_said_and_found(
    said: str | None, facts: dict[str, int], expected: str | None
) -> None:
    assert effect_of(said, **facts) == expected  # type: ignore[arg-type]


def test_worst_of_nothing_is_unknown() -> None:
    assert worst([None, None]) is None
    assert worst(["none", None, "device"]) == "device"
