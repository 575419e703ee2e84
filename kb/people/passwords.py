"""Passwords: argon2id, with the parameters that OWASP's cheat sheet names first for it.

2 passes, 19 MiB, 1 lane. A login that does not exist costs the same time as a wrong password.
What makes a password weak is judged by zxcvbn, which knows the common ones; the words that
stand near (county, login, name) count as known to whoever guesses.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerifyMismatchError
from zxcvbn import zxcvbn

from kb.base.errors import InputError

MINIMUM_LENGTH = 12
LONGEST = 256
# zxcvbn's scale: 3 stands for 10^8 guesses and more, beyond any that the limits allow.
LEAST_SCORE = 3
# The rest of a long password is not looked at for weakness: the work grows with its square.
_JUDGED = 72
# A word from so many letters on is taken out; so many signs must be left then.
_A_WORD, _LEFT = 4, 8
_hasher = PasswordHasher(time_cost=2, memory_cost=19 * 1024, parallelism=1)


def hash_password(password: str, near: Iterable[str] = ()) -> str:
    """The hash to store. `near`: words that somebody who guesses would try.

    Raises InputError where the password is too short, too long, or easily guessed.
    """
    if len(password) < MINIMUM_LENGTH:
        raise InputError(
            f"The password has {len(password)} characters. Use at least {MINIMUM_LENGTH}: "
            "four unrelated words are easy to keep in mind."
        )
    if len(password) > LONGEST:
        raise InputError(f"The password has {len(password)} characters; {LONGEST} are the most.")
    words = ["latchbook", "election", *(part for word in near for part in word.split())]
    judged = zxcvbn(password[:_JUDGED], user_inputs=words)
    if judged["score"] < LEAST_SCORE or _mostly(words, password):
        said = str(judged["feedback"]["warning"]).rstrip(".")
        why = f" {said}." if said else ""
        raise InputError(
            f"This password is easily guessed.{why} Use four unrelated words, none of them the "
            "county's, the election's or your own name."
        )
    return _hasher.hash(password)


def _mostly(words: Iterable[str], password: str) -> bool:
    """Whether little is left of a password without the words that stand near."""
    rest = password.casefold()
    for word in sorted(set(words), key=len, reverse=True):
        if len(word) >= _A_WORD:
            rest = rest.replace(word.casefold(), "")
    return len(rest) < _LEFT and rest != password.casefold()


def matches(stored: str | None, password: str) -> bool:
    """Whether the password fits; as slow for an account that has none."""
    try:
        # No password that could be set is longer; never a part of one is compared.
        whole = password if len(password) <= LONGEST else ""
        fits = _hasher.verify(stored or _nobody(), whole)
    except (VerifyMismatchError, InvalidHashError):
        return False
    return fits and stored is not None


def outdated(stored: str) -> bool:
    """Whether a hash was made with other parameters than today's."""
    return _hasher.check_needs_rehash(stored)


def rehash(password: str) -> str:
    """A hash of today's parameters for a password that was accepted before."""
    return _hasher.hash(password)


@cache
def _nobody() -> str:
    return _hasher.hash("no account has this password")
