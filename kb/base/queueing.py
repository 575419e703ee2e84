"""Waiting at several like servers: the steady state of M/M/c, by Erlang's formulas.

Erlang B by its stable recursion, C from it (Erlang 1917; NIST and every textbook of queues).
Rates are per one unit of time, whatever it is; waits come out in the same unit.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf


def erlang_b(load: float, servers: int) -> float:
    """The share of arrivals that find all servers busy and go away; `load` in erlangs."""
    blocked = 1.0
    for number in range(1, servers + 1):
        blocked = load * blocked / (number + load * blocked)
    return blocked


def erlang_c(load: float, servers: int) -> float:
    """The share of arrivals that must wait; 1 where the servers cannot keep up."""
    if load >= servers:
        return 1.0
    blocked = erlang_b(load, servers)
    return blocked / (1 - load / servers * (1 - blocked))


@dataclass(frozen=True)
class Steady:
    """The steady state: how many wait must, mean wait, mean line; infinite without one."""

    must_wait: float
    wait: float
    line: float


def steady(arrivals: float, service: float, servers: int) -> Steady:
    """M/M/c: arrivals and services of one server a unit of time."""
    capacity = servers * service
    if servers < 1 or service <= 0 or arrivals >= capacity:
        return Steady(1.0, inf, inf) if arrivals > 0 else Steady(0.0, 0.0, 0.0)
    must_wait = erlang_c(arrivals / service, servers)
    wait = must_wait / (capacity - arrivals)
    return Steady(must_wait, wait, arrivals * wait)
