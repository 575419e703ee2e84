"""What a record is made of, as data: leaves, their disclosures, checkpoints, proofs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kb.incidents.leaf import Leaf

FORMAT = "latchbook-record"
VERSION = 1
LEDGER = "ledger.jsonl"
DISCLOSURES = "disclosures.json"
REDACTIONS = "redactions.json"
ABOUT = "record.json"
KEY = "public-key.txt"
KEY_PEM = "public-key.pem"
INCLUSION = "proofs/inclusion.jsonl"
CONSISTENCY = "proofs/consistency.json"
CHECKPOINTS = "checkpoints/"
ATTACHMENTS = "attachments/"
TABLE = "table.csv"
README = "README.txt"
CERTIFICATE = "certificate.txt"
# The SHA-256 of every other file, as `sha256sum` writes it, in a note that the office signs.
MANIFEST = "manifest.txt"
MANIFEST_TITLE = "latchbook record manifest"
# Where the log of what belongs to no election lies: places, devices.
COUNTY = "county/"


@dataclass(frozen=True)
class Redaction:
    """A member that is not disclosed, and why."""

    sequence: int
    member: str
    reason: str


@dataclass(frozen=True)
class Log:
    """A log up to its newest checkpoint. `notes`: the signed checkpoints by size, rising.

    `nodes` is the hash of each leaf in order.
    """

    origin: str
    leaves: Sequence[Leaf]
    notes: Mapping[int, str]
    hashes: Sequence[bytes]
    redactions: Sequence[Redaction]


@dataclass(frozen=True)
class Record:
    """All of a record: the election's log, the county's, and what was looked at on the way."""

    election: str
    county: str
    made: str
    key: str
    key_pem: str
    public: bool
    log: Log
    county_log: Log | None
    attachments: Mapping[str, bytes]
    table: bytes
