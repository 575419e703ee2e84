"""Types of front matter fields, and how their faults become problems with a line.

Every scalar arrives as text (see `yamlfile`), so each type says here what text it takes.
"""

from __future__ import annotations

import dataclasses
import difflib
import math
import re
from collections.abc import Callable, Mapping
from datetime import date
from typing import Annotated, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError
from pydantic_core import PydanticCustomError

from kb.base.errors import Problem

Model = TypeVar("Model", bound=BaseModel)

_CODE = re.compile(r"[1-9][0-9]{2}")


class Fields(BaseModel):
    """Base of all models of YAML files: field names with hyphens, unknown ones refused."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, alias_generator=lambda name: name.replace("_", "-")
    )


def _shape(message: str) -> PydanticCustomError:
    # Braces are placeholders to pydantic, and the author's text may hold some.
    return PydanticCustomError("shape", "{message}", {"message": message})


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise _shape("write one line of text, not a list")
    return value.strip()


def _texts(value: object) -> list[str]:
    """Read a list of texts; a lone text is a list of one, nothing at all is an empty list."""
    if isinstance(value, str):
        return [value.strip()] if value.strip() else []
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        raise _shape("write a list of texts, such as [one, two]; quote a text that holds ': '")
    if not all(item.strip() for item in value):
        raise _shape("an item of the list is empty; fill it in or take it away")
    return [item.strip() for item in value]


def _number(value: object) -> float | None:
    if value == "":
        return None
    try:
        number = float(_text(value))
    except ValueError:
        number = math.nan
    if not 0 < number < math.inf:
        raise _shape(f"'{value}' is not a number above 0")
    return number


def _day(value: object) -> date | None:
    if value == "":
        return None
    text = _text(value)
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = None
    if day is None or day.isoformat() != text:
        raise _shape(f"'{text}' is not a date such as 2026-11-03")
    return day


def _code(value: object) -> str:
    text = _text(value)
    if text and not _CODE.fullmatch(text):
        raise _shape(f"'{text}' is not a short code; write three digits, such as 214")
    if text.endswith("11"):
        raise _shape(f"'{text}' sounds like an emergency or service number; take another")
    return text


def one_of(allowed: tuple[str, ...]) -> Callable[[object], str]:
    """Make a validator for an id of a closed list; nothing at all is let through as ''."""

    def check(value: object) -> str:
        text = _text(value)
        if text and text not in allowed:
            raise PydanticCustomError("id", "{message}", {"message": unknown(text, allowed)})
        return text

    return check


def unknown(text: str, allowed: tuple[str, ...] | list[str]) -> str:
    """Say that an id is not in its list, and what may have been meant."""
    near = difflib.get_close_matches(text, allowed, n=1)
    choices = f"write one of {', '.join(sorted(allowed))}" if allowed else "take it away"
    hint = f"did you mean '{near[0]}'?" if near else choices
    return f"'{text}' is not known; {hint}"


Text = Annotated[str, BeforeValidator(_text)]
Texts = Annotated[tuple[str, ...], BeforeValidator(_texts)]
Code = Annotated[str, BeforeValidator(_code)]
Number = Annotated[float | None, BeforeValidator(_number)]
Day = Annotated[date | None, BeforeValidator(_day)]


def validate(
    model: type[Model], value: Mapping[str, object]
) -> tuple[Model, list[tuple[str, str, str]]]:
    """Fit a mapping to a model, all faults at once.

    Returns the model without the fields at fault (a model's every field has a default), and
    the faults as (path such as "phrases.3", "unknown" | "id" | "shape", message).
    """
    try:
        return model.model_validate(value), []
    except ValidationError as error:
        faults = [_fault(model, one) for one in error.errors()]
    wrong = {path.partition(".")[0] for path, _, _ in faults}
    sound = {name: part for name, part in value.items() if name not in wrong}
    return model.model_validate(sound), faults


def _fault(model: type[BaseModel], error: Mapping[str, object]) -> tuple[str, str, str]:
    location = error["loc"]
    parts = location if isinstance(location, tuple) else ()
    path = ".".join(str(part) for part in parts)
    if error["type"] == "extra_forbidden":
        known = [name.replace("_", "-") for name in model.model_fields] if len(parts) == 1 else []
        return path, "unknown", f"the field {unknown(str(parts[-1]), known)}"
    if error["type"] == "missing":
        return path, "shape", "this is missing"
    message = str(error["msg"]).removeprefix("Value error, ")
    return path, "id" if error["type"] == "id" else "shape", message


def line_of(lines: Mapping[str, int], path: str) -> int:
    """Return the line of a path, or of the nearest thing around it that has one."""
    while path and path not in lines:
        path = path.rpartition(".")[0]
    return lines.get(path, 1)


def problem(where: str, lines: Mapping[str, int], path: str, code: str, message: str) -> Problem:
    """Make the problem of one field; the field's name begins the message."""
    name = path.partition(".")[0]
    shown = f"{name}: {message}" if name else message
    return Problem(where, line_of(lines, path), code, shown, field=path)


def warning(where: str, lines: Mapping[str, int], path: str, code: str, message: str) -> Problem:
    """Make the problem of a field that does not keep a text from being used."""
    return dataclasses.replace(problem(where, lines, path, code, message), warning=True)
