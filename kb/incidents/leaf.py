"""An event as a leaf of the log: salted digests that can be proven one by one.

Of an event only election and kind stand open in the leaf. Every other member is a disclosure
as in RFC 9901 (SD-JWT), section 4.2.1: base64url of a JSON array [salt, name, value], its
SHA-256 in the leaf. So a member can be withheld later and all proofs still hold. The leaf is
canonical JSON (RFC 8785), its hash that of RFC 6962, section 2.1.
"""

from __future__ import annotations

import base64
import hashlib
import secrets
from collections.abc import Mapping
from dataclasses import dataclass

import rfc8785

from kb.incidents.events import Event

SALT_BYTES = 16  # 128 bits, as RFC 9901, section 9.3, recommends
_LEAF_PREFIX = b"\x00"


@dataclass(frozen=True)
class Leaf:
    """One entry of a log: its number, the bytes that were hashed, and what they hide."""

    sequence: int
    data: bytes
    event: Event
    salts: Mapping[str, str]


def disclosed_members(event: Event) -> dict[str, object]:
    """Every member that gets a disclosure, by name; members of the body as `body.<name>`."""
    told = event.members()
    body = {f"body.{name}": value for name, value in event.body.items()}
    apart = {"election", "kind", "body"}
    return {name: value for name, value in told.items() if name not in apart} | body


def make_salts(event: Event) -> dict[str, str]:
    """A fresh salt for each disclosed member."""
    return {name: _base64url(secrets.token_bytes(SALT_BYTES)) for name in disclosed_members(event)}


def disclosure(salt: str, name: str, value: object) -> str:
    """One disclosure (RFC 9901, section 4.2.1), its parts in canonical JSON."""
    parts = b", ".join(rfc8785.dumps(part) for part in (salt, name, value))  # type: ignore[arg-type]
    return _base64url(b"[" + parts + b"]")


def digest(text: str) -> str:
    """The digest of a disclosure (RFC 9901, section 4.2.3): over its base64url form."""
    return _base64url(hashlib.sha256(text.encode("ascii")).digest())


def leaf(event: Event, salts: Mapping[str, str]) -> bytes:
    """The leaf's bytes. `salts` has one salt for each of `disclosed_members`."""
    digests = sorted(
        digest(disclosure(salts[name], name, value))
        for name, value in disclosed_members(event).items()
    )
    return rfc8785.dumps({"election": event.election, "kind": event.kind, "_sd": digests})


def leaf_hash(data: bytes) -> bytes:
    """SHA-256 of the leaf behind a zero byte (RFC 6962, section 2.1)."""
    return hashlib.sha256(_LEAF_PREFIX + data).digest()


def _base64url(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode("ascii")
