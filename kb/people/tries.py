"""How often a sign-in may be tried: enough to stop guessing, never enough to lock a worker out.

Three limits, each over a sliding window: one login from one address, one address whatever the
login, one login wherever from. Somebody outside must not be able to keep a hotline worker out on
election day, nor one desk the whole office behind the same address: where this login signed in
well before from this address, only the first limit holds.
"""

from __future__ import annotations

import ipaddress
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta


@dataclass(frozen=True)
class Limit:
    """At most `most` failed tries within `window`."""

    name: str
    most: int
    window: timedelta


PAIR = Limit("pair", 10, timedelta(minutes=15))
ADDRESS = Limit("address", 100, timedelta(hours=1))
LOGIN = Limit("login", 250, timedelta(minutes=15))
# How long an address at which a login signed in well is known for it.
KNOWN = timedelta(days=90)
LONGEST = max(limit.window for limit in (PAIR, ADDRESS, LOGIN))


def free_again(tries: Sequence[datetime], limit: Limit, now: datetime) -> datetime | None:
    """When the next try is allowed; None where it is allowed now. `tries`: the failed ones."""
    recent = sorted(at for at in tries if now - at < limit.window)
    if len(recent) < limit.most:
        return None
    return recent[-limit.most] + limit.window


def source(address: str) -> str:
    """What counts as one address: IPv6 gives each customer 64 bits to choose among."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    return str(ipaddress.ip_network((found, 64), strict=False)) if found.version == 6 else address


def pair(login: str, address: str) -> str:
    """The name under which tries of one login from one address are counted."""
    return _name("pair", login, address)


def keys(login: str, address: str) -> dict[str, Limit]:
    """Under which names a failed try is counted, and which limit holds for each."""
    return {
        pair(login, address): PAIR,
        _name("address", address): ADDRESS,
        _name("login", login): LOGIN,
    }


def _name(*parts: str) -> str:
    """Parts as one name. As JSON, since a login is whatever somebody typed, spaces included."""
    return json.dumps(parts)
