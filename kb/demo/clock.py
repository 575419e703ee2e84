"""Where and when the invented election day is: in progress, whatever the clock says."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

# Between these local times there is enough of a day behind and before the office.
EARLIEST, LATEST = time(9, 0), time(19, 30)
LATE_MORNING = 11


@dataclass(frozen=True)
class Today:
    """The election day: an instant, and the IANA zone in which the county lies."""

    now: datetime
    zone: str

    @property
    def date(self) -> date:
        """The voting day, on the county's wall clock."""
        return self.now.astimezone(ZoneInfo(self.zone)).date()

    def at(self, clock: str, days_before: int = 0) -> datetime:
        """The instant at which the county's clock shows hh:mm, today or some days before."""
        day = self.date - timedelta(days=days_before)
        return datetime.combine(day, time.fromisoformat(clock), ZoneInfo(self.zone))


def today(now: datetime) -> Today:
    """Choose the county's zone: a whole number of hours from UTC, without daylight saving.

    `now` carries the offset of this machine. Where its clock, taken to the whole hour of
    offset, shows a time of the election day, that is the county's too; else the county lies
    where it is about eleven in the morning. Raises ValueError for a time without offset.
    """
    offset = now.utcoffset()
    if offset is None:
        raise ValueError("the demo needs a time with its offset")
    hours = offset // timedelta(hours=1)
    if not EARLIEST <= (now.astimezone(UTC) + timedelta(hours=hours)).time() <= LATEST:
        hours = LATE_MORNING - now.astimezone(UTC).hour
    # The names Etc/GMT+n count west of Greenwich as positive.
    return Today(now.replace(microsecond=0), "Etc/GMT" if hours == 0 else f"Etc/GMT{-hours:+d}")
