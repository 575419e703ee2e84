"""The errors a person can meet, each with a message that says what, where and what to do.

    LatchbookError
    ├── InputError       what was given is at fault: a form field, an argument
    │   └── Problems     a file or form with one or more faults, all told at once
    ├── StateError       the data folder is missing, half made, or busy
    ├── SignedOut        a form came without a session
    ├── Refused          the person's role does not allow it
    └── NotFound         no such article, place, incident

The command line prints the message and ends with status 1; the pages answer with
`http_status`. Anything that is not a LatchbookError is a defect of the program.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass


@dataclass(frozen=True, order=True)
class Problem:
    """One fault of an input: where it stands, a short code, and what to do about it."""

    where: str
    line: int
    code: str
    message: str
    field: str = ""
    warning: bool = False

    def __str__(self) -> str:
        place = f"{self.where}:{self.line}" if self.line else self.where
        grade = "warning: " if self.warning else ""
        return f"{place} {self.code} {grade}{self.message}"

    def as_dict(self) -> dict[str, object]:
        """The same as a flat dictionary, for `--json`."""
        return asdict(self)


class LatchbookError(Exception):
    """Base of all errors that are told to a person."""

    http_status = 500


class InputError(LatchbookError):
    """What was given is at fault."""

    http_status = 400


class Problems(InputError):
    """All faults of one input. `problems` is never empty."""

    http_status = 422

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = sorted(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class StateError(LatchbookError):
    """The data folder is not in a state to work with."""

    http_status = 503


class SignedOut(LatchbookError):
    """A form came without a session."""

    http_status = 401


class Refused(LatchbookError):
    """The signed-in person's roles do not allow this. `rule` is a short name for what does not."""

    http_status = 403

    def __init__(self, message: str, rule: str = "not by this person") -> None:
        self.rule = rule
        super().__init__(message)


class NotFound(LatchbookError):
    """The thing named does not exist."""

    http_status = 404
