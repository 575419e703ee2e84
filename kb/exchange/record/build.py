"""The files of a record's zip, from its content. Pure: the same content, the same bytes."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterator, Mapping
from importlib import resources
from itertools import pairwise

from kb.exchange.record import content
from kb.exchange.record.content import Log, Record
from kb.incidents.leaf import disclosed_members, disclosure
from kb.incidents.merkle import Nodes, consistency_proof, inclusion_proof, nodes_over


def files(record: Record) -> Iterator[tuple[str, bytes]]:
    """Every file of the zip, by name."""
    yield content.README, _text("public-copy.txt" if record.public else "record.txt", record)
    yield content.ABOUT, _json(_about(record))
    yield content.KEY, f"{record.key}\n".encode()
    yield content.KEY_PEM, record.key_pem.encode()
    yield from log_files("", record.log)
    if record.county_log is not None:
        yield from log_files(content.COUNTY, record.county_log)
    yield content.TABLE, record.table
    for name, data in sorted(record.attachments.items()):
        yield f"{content.ATTACHMENTS}{name}", data
    if not record.public:
        yield content.CERTIFICATE, _text("certificate.txt", record)


def manifest(made: Mapping[str, bytes]) -> str:
    """The text of the manifest over these files, to be signed."""
    lines = (f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in made.items())
    return f"{content.MANIFEST_TITLE}\n{''.join(lines)}"


def log_files(folder: str, log: Log) -> Iterator[tuple[str, bytes]]:
    """The files of one log: leaves, disclosures, redactions, checkpoints, proofs."""
    size, nodes = len(log.leaves), nodes_over(log.hashes)
    yield f"{folder}{content.LEDGER}", b"".join(leaf.data + b"\n" for leaf in log.leaves)
    yield f"{folder}{content.DISCLOSURES}", _json(_disclosures(log))
    yield f"{folder}{content.REDACTIONS}", _json([as_line(one) for one in log.redactions])
    for at, note in log.notes.items():
        yield f"{folder}{content.CHECKPOINTS}{at:010}.txt", note.encode()
    proofs = ({"sequence": at + 1, "proof": _path(nodes, at, size)} for at in range(size))
    yield f"{folder}{content.INCLUSION}", b"".join(_line(proof) for proof in proofs)
    steps = [
        {"old": old, "new": new, "proof": list(map(_base64, consistency_proof(nodes, old, new)))}
        for old, new in pairwise(log.notes)
    ]
    yield f"{folder}{content.CONSISTENCY}", _json(steps)


def _path(nodes: Nodes, at: int, size: int) -> list[str]:
    return list(map(_base64, inclusion_proof(nodes, at, size)))


def as_line(redaction: content.Redaction) -> dict[str, object]:
    """A redaction as it stands in its file."""
    return {
        "sequence": redaction.sequence,
        "member": redaction.member,
        "reason": redaction.reason,
    }


def _disclosures(log: Log) -> dict[str, list[str]]:
    hidden = {(one.sequence, one.member) for one in log.redactions}
    return {
        str(leaf.sequence): [
            disclosure(leaf.salts[name], name, value)
            for name, value in disclosed_members(leaf.event).items()
            if (leaf.sequence, name) not in hidden
        ]
        for leaf in log.leaves
    }


def _about(record: Record) -> dict[str, object]:
    logs = {"": record.log} | ({content.COUNTY: record.county_log} if record.county_log else {})
    return {
        "format": content.FORMAT,
        "version": content.VERSION,
        "county": record.county,
        "election": record.election,
        "made": record.made,
        "public": record.public,
        "logs": {
            folder: {"origin": log.origin, "size": len(log.leaves)} for folder, log in logs.items()
        },
    }


def _text(name: str, record: Record) -> bytes:
    """A text for people, with what this record is called put in."""
    text = resources.files(__package__).joinpath("texts", name).read_text(encoding="utf-8")
    told: Mapping[str, str] = {
        "COUNTY": record.county,
        "ELECTION": record.election,
        "MADE": record.made,
        "ENTRIES": str(len(record.log.leaves)),
        "KEY": record.key,
        "KEY_SHA256": hashlib.sha256(record.key_pem.encode()).hexdigest(),
    }
    for word, value in told.items():
        text = text.replace(f"@{word}@", value)
    return text.encode()


def _line(told: Mapping[str, object]) -> bytes:
    return json.dumps(told, separators=(",", ":")).encode() + b"\n"


def _json(told: object) -> bytes:
    return json.dumps(told, ensure_ascii=False, indent=1).encode() + b"\n"


def _base64(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")
