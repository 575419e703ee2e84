"""How often a sign-in may be tried: enough to stop guessing, never enough to lock a worker out.

Three limits, each over a sliding window: one login from one address, one address whatever the
login, one login wherever from. The last is wide: somebody outside must not be able to keep a
hotline worker out on election day, and the others stop them first.
"""

from __future__ import annotations

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
LOGIN = Limit("login", 200, timedelta(hours=1))
LONGEST = max(limit.window for limit in (PAIR, ADDRESS, LOGIN))


def free_again(tries: Sequence[datetime], limit: Limit, now: datetime) -> datetime | None:
    """When the next try is allowed; None where it is allowed now. `tries`: the failed ones."""
    recent = sorted(at for at in tries if now - at < limit.window)
    if len(recent) < limit.most:
        return None
    return recent[-limit.most] + limit.window


def keys(login: str, address: str) -> dict[str, Limit]:
    """Under which names a failed try is counted, and which limit holds for each."""
    return {
        f"pair {login} {address}": PAIR,
        f"address {address}": ADDRESS,
        f"login {login}": LOGIN,
    }
