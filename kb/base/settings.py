"""The county's settings: `settings.toml` in the data folder, then the environment.

Every key is optional. A key that does not exist is an error, so that a slip of the pen does
not silently leave a default in force. `LATCHBOOK_SESSION_HOURS=12` in the environment beats
the file.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kb.base.errors import Problem, Problems

FILE = "settings.toml"
PREFIX = "LATCHBOOK_"
# Names in the environment that are not settings.
RESERVED = {"LATCHBOOK_DATA"}


class Settings(BaseModel):
    """All settings with their defaults; the description stands in the file that init writes."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    county: str = Field("Our County", description="Name of the county, shown on every page.")
    hotline: str = Field("", description="The hotline's number, shown to rovers and in print.")
    session_hours: float = Field(
        16, gt=0, le=48, description="Hours until a person must sign in again."
    )
    session_idle_hours: float = Field(
        4, gt=0, le=48, description="Hours without any use after which a person must sign in again."
    )
    second_factor: bool = Field(
        True,
        description="true: managers and administrators also give a one-time code of an "
        "authenticator app at sign-in.",
    )
    keep_months: int = Field(
        22,
        ge=22,
        description="Months after an election until its record may be thrown away. 22 is what 52 "
        "U.S.C. 20701 sets for federal elections; counsel decides what it covers.",
    )
    road_factor: float = Field(
        1.3, ge=1, le=3, description="Road distance over straight distance, for dispatch."
    )
    km_an_hour: float = Field(40, gt=0, le=120, description="How fast rovers travel, for dispatch.")
    standby: str = Field(
        "",
        description="Folder of the standby, as `latchbook standby` names it; empty without one.",
    )
    trusted_proxy: bool = Field(
        False,
        description="true only when a reverse proxy on this machine does TLS: cookies are then "
        "Secure, and the proxy's word on the client's address and scheme is taken.",
    )


def load(folder: Path, environment: Mapping[str, str] = os.environ) -> Settings:
    """Read the settings of a data folder. Raises Problems with every wrong key at once."""
    path = folder / FILE
    try:
        given: dict[str, object] = dict(tomllib.loads(path.read_text(encoding="utf-8")))
    except FileNotFoundError:
        given = {}
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise Problems([Problem(str(path), 0, "SETTINGS", f"is not TOML: {error}")]) from None
    for name, value in environment.items():
        if name.startswith(PREFIX) and name not in RESERVED:
            given[name.removeprefix(PREFIX).lower()] = value
    try:
        return Settings.model_validate(given)
    except ValidationError as error:
        raise Problems(
            _problem(path, fault["loc"], fault["msg"]) for fault in error.errors()
        ) from None


def _problem(path: Path, location: tuple[int | str, ...], message: str) -> Problem:
    name = ".".join(str(part) for part in location)
    known = ", ".join(Settings.model_fields)
    hint = f" (known settings: {known})" if "Extra inputs" in message else ""
    return Problem(str(path), 0, "SETTINGS", f"{name}: {message}{hint}", field=name)


def template() -> str:
    """The settings file that `latchbook init` writes: every key, commented out, explained."""
    lines = ["# Settings of this data folder. A line without # in front is in force.", ""]
    for name, field in Settings.model_fields.items():
        lines.append(f"# {field.description}")
        default = field.default
        shown = str(default).lower() if isinstance(default, bool) else default
        lines += [
            f'# {name} = "{shown}"' if isinstance(default, str) else f"# {name} = {shown}",
            "",
        ]
    return "\n".join(lines)
