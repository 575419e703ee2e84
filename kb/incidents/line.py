"""What will the line be? Voters who come, devices that are up, and when it clears.

A fluid estimate for the telephone: while more come than the devices take, the line grows by the
difference; once they take more, it falls by the difference. It says what to expect, not what
must happen; the steady state (M/M/c) says what waiting there is even when all is well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from kb.base.queueing import Steady, steady

# Act at fifteen to twenty minutes; nobody should wait longer than thirty.
ACT, CEILING = 20.0, 30.0
HOUR = 60.0


@dataclass(frozen=True)
class Outage:
    """Voters an hour, what one device takes an hour, devices up now and in all.

    `minutes`: until the devices are whole again. `waiting`: voters in line now. `stores`: the
    share of voters who put their ballot in the emergency compartment meanwhile, 0 to 1.
    """

    arrivals: float
    service: float
    up: int
    whole: int
    minutes: float
    waiting: float = 0.0
    stores: float = 0.0


@dataclass(frozen=True)
class Line:
    """The answer, in voters and minutes; infinite where it never clears.

    `backlog`: in line when the devices are whole again. `longest`: the wait of who joins then,
    or now where that is worse. `clears`: minutes after that until nobody waits. `stored`:
    ballots in the emergency compartment by then. `after`: the steady state with all devices.
    """

    backlog: float
    longest: float
    clears: float
    stored: float
    after: Steady


def expect(outage: Outage) -> Line:
    """The line of an outage."""
    taken = outage.up * outage.service
    stored_rate = outage.arrivals * outage.stores
    joining = outage.arrivals - stored_rate
    backlog = max(0.0, outage.waiting + (joining - taken) * outage.minutes / HOUR)
    whole = outage.whole * outage.service
    spare = whole - outage.arrivals
    clears = 0.0 if backlog == 0 else backlog / spare * HOUR if spare > 0 else inf
    return Line(
        backlog,
        max(
            _wait(outage.waiting, taken, whole, outage.minutes), _wait_at_end(backlog, taken, whole)
        ),
        clears,
        stored_rate * outage.minutes / HOUR,
        steady(outage.arrivals, outage.service, outage.whole),
    )


def _wait_at_end(backlog: float, taken: float, whole: float) -> float:
    """The wait of the last who joined: at the pace of the devices that were up."""
    pace = taken or whole
    return backlog / pace * HOUR if pace else (inf if backlog else 0.0)


def _wait(ahead: float, taken: float, whole: float, minutes: float) -> float:
    """The wait of who joins behind `ahead` voters now, over the outage and after it."""
    within = taken * minutes / HOUR
    if ahead <= within:
        return ahead / taken * HOUR if taken else 0.0
    return minutes + (ahead - within) / whole * HOUR if whole else inf


def sentence(line: Line) -> str:
    """One sentence to read to the judge."""
    if max(line.longest, line.clears) == inf:
        return (
            "With these devices the line will not clear by itself: more voters come than they "
            "can take. Help must come."
        )
    if line.longest < 1 and line.backlog < 1:
        return "No line should form. Count again in fifteen minutes."
    said = (
        f"Expect about {_round(line.backlog)} in line when it works again, a longest wait of "
        f"about {_round(line.longest)} minutes, and no line {_round(line.clears)} minutes later."
    )
    if line.longest > CEILING:
        return f"{said} That is over thirty minutes: tell the duty officer now."
    return f"{said} That is long: tell the office." if line.longest >= ACT else said


def quick_wait(waiting: float, voters_an_hour: float) -> float:
    """Minutes of wait by the telephone's rule: line over voters an hour, times sixty."""
    return waiting / voters_an_hour * HOUR if voters_an_hour else inf


def by_hour(expected: float, shares: Sequence[float]) -> list[float]:
    """Voters of each hour: the day's expected ones by shares, which need not sum to one."""
    total = sum(shares)
    return [expected * share / total for share in shares] if total else []


def _round(value: float) -> int:
    return round(value)
