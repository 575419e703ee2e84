"""Passwords: argon2id, with the parameters that OWASP's cheat sheet names first for it.

2 passes, 19 MiB, 1 lane. A login that does not exist costs the same time as a wrong password.
"""

from __future__ import annotations

from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import VerifyMismatchError

from kb.base.errors import InputError

MINIMUM_LENGTH = 12
_hasher = PasswordHasher(time_cost=2, memory_cost=19 * 1024, parallelism=1)


def hash_password(password: str) -> str:
    """The hash to store. Raises InputError where the password is too short."""
    if len(password) < MINIMUM_LENGTH:
        raise InputError(
            f"The password has {len(password)} characters. Use at least {MINIMUM_LENGTH}: "
            "four unrelated words are easy to keep in mind."
        )
    return _hasher.hash(password)


def matches(stored: str | None, password: str) -> bool:
    """Whether the password fits; as slow for an account that has none."""
    try:
        return _hasher.verify(stored or _nobody(), password) and stored is not None
    except VerifyMismatchError:
        return False


@cache
def _nobody() -> str:
    return _hasher.hash("no account has this password")
