"""Makes the checkpoints that are due, of every log that has grown."""

from __future__ import annotations

import logging
from datetime import datetime

from kb.base.errors import StateError
from kb.incidents.due import due
from kb.incidents.store.checkpoints import Checkpoints, Signed
from kb.incidents.store.record import Record

log = logging.getLogger(__name__)


def make_due(record: Record, checkpoints: Checkpoints, now: datetime) -> list[Signed]:
    """Sign the logs that are due at this instant; a log that cannot be signed is told and left."""
    closes = {election.id: election.closing() for election in record.elections()}
    made = []
    for name in ("", *closes):
        last = checkpoints.latest(name)
        if checkpoints.signable(name) <= (last.size if last else 0):
            continue
        reason = due(last.made if last else None, closes.get(name), now)
        if reason is None:
            continue
        try:
            made.append(checkpoints.make(name, reason, now))
        except StateError as error:
            log.error("no checkpoint was made: %s", error)  # noqa: TRY400 - the message is whole
    return made
