"""A case as one row of incidents.csv: what it came to, for a table and for another program."""

from __future__ import annotations

from collections.abc import Mapping

from kb.incidents.incident import Incident


def row(incident: Incident, names: Mapping[str, str]) -> dict[str, object]:
    """The flat row. `names`: what files call the cases, by the record's id.

    The effect is the worst it had; of several articles the one opened last stands there.
    """
    return {
        "incident": names[incident.id],
        "place": incident.place,
        "asset": incident.asset,
        "equipment": incident.equipment,
        "symptom": incident.symptom,
        "phase": incident.phase,
        "effect": incident.worst_effect,
        "flags": sorted(incident.flags),
        "started_at": incident.started,
        "reported_at": incident.reported,
        "dispatched_at": incident.dispatched,
        "arrived_at": incident.arrived,
        "restored_at": incident.restored,
        "outcome": incident.outcome,
        "cause": incident.cause,
        "article": incident.article,
        "ballots_affected": incident.ballots_affected,
        "voters_affected": incident.voters_affected,
        "caller_words": incident.words,
        "note": incident.note,
        # A case from a file names the other one as the file does.
        "duplicate_of": names.get(incident.duplicate_of or "", incident.duplicate_of),
        "cause_confidence": incident.cause_confidence,
    }
