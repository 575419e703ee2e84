"""What a place's devices logged themselves, beside the cases of the place, by time.

Events about ballots are never shown one by one: only how many an hour had.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from kb.incidents.places import Device
from kb.incidents.rows import Row
from kb.web.county import county


@dataclass(frozen=True)
class Line:
    """One line: an event of a device, a case that began or ended, or an hour's ballots."""

    at: datetime
    kind: str
    asset: str
    text: str
    row: Row | None = None


def lines(election: str, devices: Sequence[Device], rows: Sequence[Row]) -> list[Line]:
    """The lines of a place in order; none where no device's log was taken in."""
    assets = [device.asset for device in devices]
    events = county().folder.devicelogs.of(election, assets) if election else []
    if not events:
        return []
    found = [
        Line(one.at, one.disposition, one.asset, one.description or one.id)
        for one in events
        if not one.cast
    ]
    hours = Counter(
        (one.asset, one.at.replace(minute=0, second=0, microsecond=0)) for one in events if one.cast
    )
    found += [
        Line(hour, "ballots", asset, f"{times} events about ballots in this hour")
        for (asset, hour), times in hours.items()
    ]
    for row in rows:
        for at, said in ((row.reported, "reported"), (row.restored, "works again")):
            if at is not None:
                found.append(Line(at, "case", row.asset or "", said, row))
    return sorted(found, key=lambda line: (line.at, line.kind, line.asset))
