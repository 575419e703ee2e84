"""What is signed of a log: which log, how long, and the root of its tree (C2SP tlog-checkpoint).

The county has one key, whose name its logs' origins begin with: `NAME/elections/<id>` for the
log of an election, `NAME/county` for what belongs to no election. C2SP recommends origin and
key name to be the same; here one verifier key that is handed out serves all logs of the county,
and `origin` keeps them apart.
"""

from __future__ import annotations

import base64
import binascii
from dataclasses import dataclass
from urllib.parse import quote

from kb.base.errors import InputError
from kb.incidents.merkle import HASH_BYTES
from kb.incidents.notes import from_base64


@dataclass(frozen=True)
class Checkpoint:
    """A log's origin, its number of entries, the root of its tree (32 bytes)."""

    origin: str
    size: int
    root: bytes

    def text(self) -> str:
        """The text that is signed: three lines."""
        return f"{self.origin}\n{self.size}\n{base64.b64encode(self.root).decode()}\n"


def parse(text: str) -> Checkpoint:
    """Read the text of a checkpoint; lines after the third are passed over.

    Raises InputError where it is none.
    """
    lines = text.removesuffix("\n").split("\n")
    if len(lines) < 3 or not all(lines) or not text.endswith("\n"):
        raise InputError("This is no checkpoint: origin, size and root, a line each.")
    origin, size, root = lines[:3]
    if not (size.isascii() and size.isdigit()) or str(int(size)) != size:
        raise InputError(f"'{size:.30}' is not the size of a log: a number without zeros before.")
    try:
        data = from_base64(root)
    except (binascii.Error, ValueError):
        data = b""
    if len(data) != HASH_BYTES:
        raise InputError(f"'{root:.60}' is not the root of a log: 32 bytes in base64.")
    return Checkpoint(origin, int(size), data)


def origin(name: str, log: str) -> str:
    """The origin of a log (an election's id, or empty for the county's) under a key's name."""
    return f"{name}/elections/{quote(log, safe='')}" if log else f"{name}/county"
