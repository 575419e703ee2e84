"""Roles and what each may do: one table, read by every page and by the intake of the record.

A page names a permission, never a role; a permission that is not in the table does not exist.
"""

from __future__ import annotations

from collections.abc import Iterable

# id: the word that is shown. `reader` keeps its id in the county's files.
ROLES = {
    "hotline": "Hotline",
    "lead": "Hotline lead",
    "rover": "Rover",
    "manager": "Manager",
    "author": "Author",
    "reader": "Viewer",
    "canvass": "Canvass board",
    "administrator": "Administrator",
}

_ALL = frozenset(ROLES)
_DESK = frozenset({"hotline", "lead", "manager"})
_LOOKING_BACK = frozenset({"lead", "manager", "canvass"})

PERMISSIONS: dict[str, frozenset[str]] = {
    "read the library": _ALL,
    "edit the library": frozenset({"author", "manager"}),
    "learn from calls": frozenset({"author", "manager", "lead"}),
    "fill the worksheet": frozenset({"administrator", "manager"}),
    "take calls": _DESK,
    "work a stop": frozenset({"rover", "lead", "manager"}),
    "write down readings": _DESK | {"rover"},
    "watch the day": _DESK | {"reader"},
    "read incidents": _DESK | {"rover", "canvass", "reader"},
    "correct entries": _DESK | {"rover"},
    "approve corrections": frozenset({"lead", "manager"}),
    "withhold texts": frozenset({"manager"}),
    "keep holds": frozenset({"manager"}),
    "dispatch rovers": frozenset({"lead", "manager"}),
    "tell everyone": frozenset({"lead", "manager"}),
    "decide": frozenset({"lead", "manager"}),
    "reconcile places": frozenset({"lead", "manager"}),
    "account for the record": _LOOKING_BACK,
    "prove the record": _LOOKING_BACK | {"administrator"},
    "take out the record": frozenset({"manager", "canvass"}),
    "review": _LOOKING_BACK | {"reader"},
    "keep actions": frozenset({"lead", "manager"}),
    "manage people": frozenset({"administrator"}),
    "see the office": frozenset({"administrator", "manager"}),
}


def may(roles: Iterable[str], permission: str) -> bool:
    """Whether any of the roles has the permission; raises KeyError for an unknown one."""
    return not PERMISSIONS[permission].isdisjoint(roles)
