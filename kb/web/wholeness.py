"""Whether a case's record of custody is whole, asked at its end in Calls and in Rounds alike."""

from __future__ import annotations

from kb.incidents.complete import Lack, lacking
from kb.incidents.incident import Incident
from kb.incidents.rows import Row
from kb.web.county import county
from kb.web.forms import Form

COUNTS_BALLOTS = "scanner"


def lacks(incident: Incident) -> tuple[Lack, ...]:
    """What the record of this case still lacks."""
    counting = {
        device.asset for device in county().record.devices() if device.equipment == COUNTS_BALLOTS
    }
    return lacking(incident, counting.__contains__)


def closed_with_lacks(election: str) -> list[tuple[Row, Incident, tuple[Lack, ...]]]:
    """The cases of an election that were closed though their record lacks something."""
    record = county().record
    found = []
    for row in record.incidents(election, status="closed"):
        incident = record.incident(row.id)
        if incident is not None and not incident.imported and (missing := lacks(incident)):
            found.append((row, incident, missing))
    return sorted(found, key=lambda one: one[0].number)


def hold_record(form: Form, incident: Incident) -> dict[str, object]:
    """What a closing says of a record that is not whole: it asks for what lacks, or why.

    Nothing where nothing lacks.
    """
    missing = lacks(incident)
    if not missing:
        return {}
    why = form.free_text("incomplete")
    if not why:
        form.problems["incomplete"] = (
            "The record is not whole. Enter what is missing first, or say here why the case is "
            f"closed without it. {' '.join(map(str, missing))}"
        )
    return {"incomplete": why} if why else {}
