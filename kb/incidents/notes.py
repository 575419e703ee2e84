"""A text signed with Ed25519 (C2SP signed-note, version 1), as checkpoints of logs are signed.

A note is the text, an empty line, and a line of each signature: an em dash, the key's name, and
base64 of the key's id (4 bytes) with the signature (RFC 8032) of the text. A reader names the
keys it trusts; signatures of others do not count. Keys are written as lines of text: the public
one as C2SP's verifier key, the private one as the note package of Go's checksum database does.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from kb.base.errors import InputError

_ED25519 = b"\x01"
_KEY_BYTES = 32
_ID_BYTES = 4
_PRIVATE = "PRIVATE+KEY+"
_DASH = "\N{EM DASH} "
# C2SP asks for a limit, and for at least 16.
_MOST_SIGNATURES = 64


@dataclass(frozen=True)
class Verifier:
    """A public key and its name."""

    name: str
    key: Ed25519PublicKey

    def __post_init__(self) -> None:
        _check_name(self.name)

    @property
    def id(self) -> bytes:
        """The key's id: 4 bytes of SHA-256 over name, newline, type and key."""
        seed = self.name.encode() + b"\n" + _ED25519 + self.key.public_bytes_raw()
        return hashlib.sha256(seed).digest()[:_ID_BYTES]

    def __str__(self) -> str:
        encoded = base64.b64encode(_ED25519 + self.key.public_bytes_raw()).decode()
        return f"{self.name}+{self.id.hex()}+{encoded}"


@dataclass(frozen=True)
class Signer:
    """A private key and its name."""

    name: str
    key: Ed25519PrivateKey

    @property
    def verifier(self) -> Verifier:
        """The public key to it."""
        return Verifier(self.name, self.key.public_key())

    def secret(self) -> str:
        """The private key as a line of text, to be kept where nobody else reads."""
        encoded = base64.b64encode(_ED25519 + self.key.private_bytes_raw()).decode()
        return f"{_PRIVATE}{self.name}+{self.verifier.id.hex()}+{encoded}"


def make_signer(name: str) -> Signer:
    """A new key. Raises InputError for a name that C2SP does not allow."""
    _check_name(name)
    return Signer(name, Ed25519PrivateKey.generate())


def read_verifier(line: str) -> Verifier:
    """Read a verifier key (`name+id+base64`). Raises InputError where it is none."""
    name, identifier, key = _key_parts(line, "verifier key")
    verifier = Verifier(name, Ed25519PublicKey.from_public_bytes(key))
    _check_id(verifier, identifier)
    return verifier


def read_signer(line: str) -> Signer:
    """Read what `Signer.secret` wrote. Raises InputError, which never shows the key."""
    if not line.startswith(_PRIVATE):
        raise InputError("This is no signing key: it begins with other words. Take the right file.")
    name, identifier, key = _key_parts(line.removeprefix(_PRIVATE), "signing key")
    _check_name(name)
    signer = Signer(name, Ed25519PrivateKey.from_private_bytes(key))
    _check_id(signer.verifier, identifier)
    return signer


def sign(text: str, signer: Signer) -> str:
    """The signed note. Raises InputError for a text that no note can hold."""
    if not text.endswith("\n") or text.startswith("\n"):
        raise InputError("The text of a note begins with words and ends with a newline.")
    _check_characters(text)
    signature = signer.verifier.id + signer.key.sign(text.encode())
    return f"{text}\n{_DASH}{signer.name} {base64.b64encode(signature).decode()}\n"


def open_note(note: str, verifiers: Iterable[Verifier]) -> str:
    """The text of a note that at least one of the keys has signed.

    Raises InputError where the note is malformed, where none of the keys has signed it, or
    where a signature in the name of one of them is false.
    """
    _check_characters(note)
    text, gap, lines = note.rpartition("\n\n")
    if not gap or not text or not lines.endswith("\n"):
        raise InputError("This is no signed note: after the text an empty line and signatures.")
    text += "\n"
    known = {(verifier.name, verifier.id): verifier for verifier in verifiers}
    signatures = [_signature(line) for line in lines.removesuffix("\n").split("\n")]
    if len(signatures) > _MOST_SIGNATURES:
        raise InputError(f"This note has more than {_MOST_SIGNATURES} signatures; it is not read.")
    verified = False
    for name, identifier, signature in signatures:
        verifier = known.get((name, identifier))
        if verifier is None:
            continue
        try:
            verifier.key.verify(signature, text.encode())
        except InvalidSignature:
            raise InputError(
                f"The signature of {name} is false: the text was changed or another key signed it."
            ) from None
        verified = True
    if not verified:
        names = ", ".join(sorted(str(verifier) for verifier in known.values())) or "no key at all"
        raise InputError(f"This note is not signed by a key that is trusted here ({names}).")
    return text


def from_base64(text: str) -> bytes:
    """Strict base64 (RFC 4648, section 4): one spelling only. Raises ValueError."""
    data = base64.b64decode(text, validate=True)
    if base64.b64encode(data).decode() != text:
        raise ValueError("bits beyond the data are set")
    return data


def _signature(line: str) -> tuple[str, bytes, bytes]:
    """Name, key id and signature of a signature line."""
    name, _, encoded = line.removeprefix(_DASH).partition(" ")
    try:
        data = from_base64(encoded)
    except (binascii.Error, ValueError):
        data = b""
    if not line.startswith(_DASH) or not _is_name(name) or len(data) <= _ID_BYTES:
        raise InputError(f"'{line:.60}' is no signature line: dash, name of the key, base64.")
    return name, data[:_ID_BYTES], data[_ID_BYTES:]


def _key_parts(line: str, what: str) -> tuple[str, str, bytes]:
    """Name, id in hex and the 32 bytes of a key's line. The key may itself hold a plus."""
    parts = line.strip().split("+", 2)
    try:
        data = from_base64(parts[-1]) if len(parts) == 3 else b""
    except (binascii.Error, ValueError):
        data = b""
    if data[:1] != _ED25519 or len(data) != 1 + _KEY_BYTES:
        raise InputError(f"This is no {what} for Ed25519: name, eight hex digits, base64.")
    return parts[0], parts[1], data[1:]


def _check_id(verifier: Verifier, identifier: str) -> None:
    if verifier.id.hex() != identifier:
        raise InputError(f"The key of {verifier.name} was copied wrongly: name and key do not fit.")


def _is_name(name: str) -> bool:
    return bool(name) and "+" not in name and not any(letter.isspace() for letter in name)


def _check_name(name: str) -> None:
    if not _is_name(name) or not name.isprintable():
        raise InputError(f"'{name}' cannot name a key: no spaces, no plus, and not empty.")


def _check_characters(text: str) -> None:
    if any(letter < " " and letter != "\n" for letter in text):
        raise InputError("A signed note holds no control characters but newlines.")
