"""Who may tell what: for each kind of event, the roles whose entries the record takes."""

from __future__ import annotations

from kb.incidents.kinds import COUNTY, IMPORTED, KINDS, WITHHELD

_DESK = frozenset({"hotline", "lead", "manager"})
_FIELD = _DESK | {"rover"}
_LEADING = frozenset({"lead", "manager"})
_IMPORT = frozenset({"manager", "administrator"})

_EXCEPTIONS: dict[str, frozenset[str]] = {
    "call.offered": _DESK,
    "call.answered": _DESK,
    "call.ended": _DESK,
    "call.handed": _DESK,
    "notice.sent": _LEADING,
    "action.stated": _LEADING,
    "rover.sent": _DESK,
    "incident.merged": _DESK,
    "incident.reopened": _LEADING,
    "decision.made": _LEADING,
    WITHHELD: frozenset({"manager"}),
    "text.cleared": frozenset({"manager"}),
    "hold.placed": frozenset({"manager"}),
    "hold.lifted": frozenset({"manager"}),
    "exposure.recorded": _IMPORT,
    "call.recorded": _IMPORT,
    "log.received": _IMPORT,
    "correction.refused": _LEADING,
    "place.reconciled": _LEADING,
    "forms.issued": _LEADING,
    "form.accounted": _DESK,
    IMPORTED: _IMPORT,
} | dict.fromkeys(COUNTY, _IMPORT)

# Everything else is told by whoever works the case. Author, viewer and canvass board tell
# nothing; the administrator tells rows alone.
ROLES_FOR: dict[str, frozenset[str]] = {kind: _EXCEPTIONS.get(kind, _FIELD) for kind in KINDS}

# A person corrects what they entered themselves; these correct anybody's.
CORRECTS_OTHERS = _LEADING
# What an import tells was allowed where the file was taken in: the record does not ask again.
OF_IMPORTS = frozenset[str]().union(*ROLES_FOR.values())
