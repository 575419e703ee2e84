"""A person with an account, as the rest of the program sees them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Account:
    """A login, its roles (ids of `roles.ROLES`), and how to reach the person."""

    login: str
    name: str
    roles: frozenset[str]
    zone: str = ""
    phone: str = ""
    disabled: bool = False


def from_row(row: Mapping[str, str]) -> Account:
    """The account of a row of the database."""
    return Account(
        row["login"],
        row["name"],
        frozenset(row["roles"].split()),
        row["zone"],
        row["phone"],
        bool(row["disabled"]),
    )
