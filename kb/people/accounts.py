"""A person with an account, as the rest of the program sees them."""

from __future__ import annotations

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
