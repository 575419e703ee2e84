"""The second factor: one-time codes by time (RFC 6238), and recovery codes on paper.

A code is taken once: the step of the last one taken is kept, and only later ones count. One
step before and after the present one is allowed for clocks that are a little off.
"""

from __future__ import annotations

import re
import secrets
from datetime import datetime

import pyotp

from kb.base.ids import fingerprint

STEP_SECONDS = 30
WINDOW = 1
RECOVERY_CODES = 10
# Roles whose accounts can change what others may do, or what the record says.
ROLES = frozenset({"manager", "administrator"})
_SIGNS = "23456789abcdefghjkmnpqrstuvwxyz"
_GROUPS, _IN_GROUP = 4, 6
_SECRET = re.compile(r"[A-Z2-7]{32}")


def new_secret() -> str:
    """160 random bits in base32, as RFC 4226 recommends."""
    return pyotp.random_base32()


def is_secret(text: str) -> bool:
    """Whether a text has the form of a secret."""
    return _SECRET.fullmatch(text) is not None


def address(secret: str, login: str, county: str) -> str:
    """The address that an authenticator app reads from a QR code."""
    return pyotp.TOTP(secret).provisioning_uri(name=login, issuer_name=county)


def step_of(secret: str, code: str, now: datetime, last: int) -> int | None:
    """The time step of a code that fits and was not used; None where none does."""
    plain = "".join(code.split())
    if not (plain.isascii() and plain.isdigit() and is_secret(secret)):
        return None
    present = int(now.timestamp()) // STEP_SECONDS
    for step in range(present - WINDOW, present + WINDOW + 1):
        right = pyotp.TOTP(secret).generate_otp(step)
        if secrets.compare_digest(right, plain) and step > last:
            return step
    return None


def new_recovery_codes() -> list[str]:
    """Ten codes of 118 random bits each, without signs that look alike.

    With 112 bits and more a plain hash is enough to store of them (OWASP ASVS 5.0.0, 6.5.2).
    """
    return [
        "-".join("".join(secrets.choice(_SIGNS) for _ in range(_IN_GROUP)) for _ in range(_GROUPS))
        for _ in range(RECOVERY_CODES)
    ]


def recovery_print(code: str) -> str:
    """What is stored of a recovery code."""
    return fingerprint("".join(sign for sign in code.lower() if sign.isalnum()))
