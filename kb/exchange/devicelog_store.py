"""Take devices' own logs into a county's record."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

from kb.base.clock import format_instant, now
from kb.base.errors import InputError, Problem, Refused, StateError
from kb.exchange.devicelog import Log, parse
from kb.exchange.store import Report, known_table
from kb.incidents.events import Event
from kb.incidents.intake import imported
from kb.incidents.roles import ROLES_FOR
from kb.incidents.store import Folder
from kb.incidents.store.devicelogs import DeviceEvent
from kb.people.accounts import Account

KIND = "device-log"
_RECEIVED = "log.received"


def take(  # noqa: PLR0913 - the options of the command
    folder: Folder, path: Path, *, actor: Account, election: str | None, check: bool = False,
    zone: str | None = None, assets: Mapping[str, str] | None = None,
) -> Report:  # fmt: skip
    """Take one file; `assets`: our number for a device's own id, where they differ.

    A device that the county does not know is kept, with a warning. The same file again changes
    nothing. Raises Refused for a role that may not, and Problems with every fault of the file.
    """
    known_table(folder.record, "incidents", election)
    if actor.disabled or ROLES_FOR[_RECEIVED].isdisjoint(actor.roles):
        raise Refused(f"The account {actor.login} may not import device logs.")
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror}.") from None
    log, where = parse(data, str(path), zone), str(path)
    if not log.devices:
        raise InputError(f"{path} names no device, so there is nothing to take.")
    names = dict(assets or {})
    known = {device.asset for device in folder.record.devices()}
    warnings = tuple(
        Problem(where, 0, "LOG03", f"no device '{names.get(one, one)}' is known; it is kept",
                "Device", warning=True)
        for one in log.devices
        if names.get(one, one) not in known
    )  # fmt: skip
    sha256 = hashlib.sha256(data).hexdigest()
    if folder.devicelogs.has(sha256):
        return Report(KIND, where, 0, 0, len(log.events), warnings)
    if not check:
        events = [
            DeviceEvent(
                names.get(one.device, one.device), one.at, one.id, one.type, one.disposition,
                one.severity, one.description, one.cast,
            )
            for one in log.events
        ]  # fmt: skip
        received = _received(log, names, sha256, path.name, str(election), actor.login)
        receipts = folder.devicelogs.take(sha256, path.name, data, events, received)
        if refused := [one for one in receipts if one.state == "refused"]:
            raise StateError(f"The record refused the log: {refused[0].message}")
    return Report(KIND, where, len(log.events), 0, 0, warnings)


def _received(  # noqa: PLR0913 - what the entry says
    log: Log, names: Mapping[str, str], sha256: str, file: str, election: str, login: str
) -> list[Event]:
    """One ledger entry a device: which file, how many events, from when to when."""
    entries = []
    for device in log.devices:
        times = [one.at for one in log.events if one.device == device]
        body: dict[str, object] = {
            "asset": names.get(device, device),
            "file": file,
            "sha256": sha256,
            "events": len(times),
        }
        if times:
            body |= {"first": format_instant(min(times)), "last": format_instant(max(times))}
        line = {
            "election": election,
            "incident": None,
            "kind": _RECEIVED,
            "happened": format_instant(now()),
            "body": body,
        }
        entries.append(imported(line, importer=login, received=now(), where=file))
    return entries
