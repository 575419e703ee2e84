"""Until when an election's record is kept: by date, and longer under a litigation hold.

The program deletes nothing. After the date, and without a hold, two persons of the office may
take the folder away by the county's own procedure.
"""

from __future__ import annotations

import calendar
from datetime import date


def keep_until(election: date, months: int) -> date:
    """The last day on which the record must be kept; a day that a month lacks is its last one."""
    whole = election.month - 1 + months
    year, month = election.year + whole // 12, whole % 12 + 1
    return date(year, month, min(election.day, calendar.monthrange(year, month)[1]))
