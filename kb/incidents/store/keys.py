"""The county's signing key: made once, kept beside the database, never replaced.

`keys/signing-key` is one line that only its owner may read (0600, in a folder of 0700);
`keys/verifier-key` is the line that everybody may have. The key's name stays as it was made,
since what is signed carries it: the county's name in plain letters, eight hex digits that keep
counties of one name apart, and `.latchbook`, as `example-county-1a2b3c4d.latchbook`. It looks
like an address, as C2SP recommends, and leads nowhere.
"""

from __future__ import annotations

import os
import re
import secrets
import unicodedata
from pathlib import Path

from kb.base.errors import InputError, StateError
from kb.incidents.notes import Signer, Verifier, make_signer, read_signer, read_verifier

FOLDER = "keys"
SIGNING = "signing-key"
VERIFIER = "verifier-key"


def key_name(county: str) -> str:
    """A name for a new key of this county."""
    plain = unicodedata.normalize("NFKD", county).encode("ascii", "ignore").decode().lower()
    words = re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "county"
    return f"{words}-{secrets.token_hex(4)}.latchbook"


def make(folder: Path, county: str) -> Verifier:
    """Make what is missing of the keys of a data folder; returns the public key.

    Raises StateError where both are there, or where only the public one is: nothing is replaced.
    """
    keys = folder / FOLDER
    signing, public = keys / SIGNING, keys / VERIFIER
    if signing.exists() and public.exists():
        raise StateError(f"{keys} holds keys already, and they stay: nothing was changed.")
    if public.exists():
        raise StateError(
            f"{signing} is missing, but {public} is there. Put the signing key back from a backup. "
            f"If it is lost for good, move {public} away, keep it, and run this again: later "
            "checkpoints are then signed by another key, and whoever holds older ones must be told."
        )
    keys.mkdir(mode=0o700, exist_ok=True)
    keys.chmod(0o700)
    if not signing.exists():
        _write(signing, make_signer(key_name(county)).secret(), 0o600)
    verifier = signer(folder).verifier
    _write(public, str(verifier), 0o644)
    return verifier


def there(folder: Path) -> bool:
    """Whether the folder has a signing key."""
    return (folder / FOLDER / SIGNING).exists()


def signer(folder: Path) -> Signer:
    """The folder's signing key. Raises StateError where it is missing or broken."""
    path = folder / FOLDER / SIGNING
    try:
        return read_signer(path.read_text(encoding="ascii"))
    except FileNotFoundError:
        raise StateError(_missing(folder)) from None
    except (InputError, UnicodeDecodeError, OSError) as error:
        raise StateError(f"{path} cannot be used. Put it back from a backup. {error}") from None


def verifier(folder: Path) -> Verifier:
    """The folder's public key. Raises StateError where it is missing or broken."""
    path = folder / FOLDER / VERIFIER
    try:
        return read_verifier(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise StateError(_missing(folder)) from None
    except (InputError, UnicodeDecodeError, OSError) as error:
        raise StateError(f"{path} cannot be used. Put it back from a backup. {error}") from None


def _missing(folder: Path) -> str:
    return (
        f"{folder} has no signing key, so nothing of its record can be signed. "
        f"Make one: latchbook keys --data {folder}"
    )


def _write(path: Path, line: str, mode: int) -> None:
    """Write a new file, with its mode from the first byte on."""
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    with os.fdopen(descriptor, "w", encoding="ascii") as file:
        file.write(f"{line}\n")
        file.flush()
        os.fsync(file.fileno())
