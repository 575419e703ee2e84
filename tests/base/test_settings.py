"""Settings: defaults, file, environment, and every wrong key told at once."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from kb.base import settings
from kb.base.errors import Problems


def test_defaults_without_a_file(tmp_path: Path) -> None:
    loaded = settings.load(tmp_path, {})
    assert loaded.session_hours == 16
    assert loaded.trusted_proxy is False


def test_environment_beats_file(tmp_path: Path) -> None:
    (tmp_path / settings.FILE).write_text('county = "Tamarisk County"\nsession_hours = 8\n')
    loaded = settings.load(tmp_path, {"LATCHBOOK_SESSION_HOURS": "12", "LATCHBOOK_DATA": "x"})
    assert (loaded.county, loaded.session_hours) == ("Tamarisk County", 12)


def test_all_wrong_keys_at_once_with_what_is_known(tmp_path: Path) -> None:
    (tmp_path / settings.FILE).write_text('contry = "x"\nsession_hours = -1\n')
    with pytest.raises(Problems) as raised:
        settings.load(tmp_path, {"LATCHBOOK_TRUSTED_PROXY": "maybe"})
    assert {problem.field for problem in raised.value.problems} == {
        "contry",
        "session_hours",
        "trusted_proxy",
    }
    assert "known settings: county, hotline" in str(raised.value)


def test_a_file_that_is_not_toml(tmp_path: Path) -> None:
    (tmp_path / settings.FILE).write_text("county = Tamarisk")
    with pytest.raises(Problems, match="is not TOML"):
        settings.load(tmp_path, {})


def test_the_template_is_toml_and_its_lines_work_when_uncommented(tmp_path: Path) -> None:
    text = settings.template()
    assert tomllib.loads(text) == {}
    values = [line[2:] for line in text.splitlines() if " = " in line]
    (tmp_path / settings.FILE).write_text("\n".join(values))
    assert settings.load(tmp_path, {}) == settings.Settings()
    assert len(values) == len(settings.Settings.model_fields)
