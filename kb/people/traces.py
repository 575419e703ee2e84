"""What is kept of refusals and of changes to accounts, for an administrator to read.

No address is kept whole: a place in the network is enough to see a pattern.
"""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from datetime import datetime, timedelta

KEPT = timedelta(days=90)


@dataclass(frozen=True)
class Refusal:
    """Somebody was refused: who, from which part of the network, which rule, at what.

    `login` is "-" where there is no such account: what was typed there may be a password.
    `times`: how often in the same hour of the clock; `at` is the last of them.
    """

    at: datetime
    login: str
    place: str
    rule: str
    address: str
    times: int = 1


@dataclass(frozen=True)
class Change:
    """Something was done to an account, by whom and why."""

    at: datetime
    by: str
    login: str
    what: str
    reason: str


def network_of(address: str) -> str:
    """The network of an address: 24 bits of IPv4, 48 of IPv6; empty where it is none."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return ""
    bits = 24 if found.version == 4 else 48
    return str(ipaddress.ip_network(f"{found}/{bits}", strict=False))
