"""What the entries of a record say: disclosures against the digests in the signed lines."""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from kb.base.errors import InputError
from kb.exchange.record import content
from kb.incidents.leaf import digest

NAMED = 20
Kind = TypeVar("Kind", list[Any], dict[str, Any])


@dataclass
class Faults:
    """Faults of one log's entries, and how many members are disclosed and not."""

    folder: str
    told: list[str] = field(default_factory=list)
    disclosed: int = 0
    hidden: int = 0

    def add(self, file: str, sequence: int | None, message: str) -> None:
        """One more fault."""
        place = f", entry {sequence}" if sequence is not None else ""
        if len(self.told) < NAMED:
            self.told.append(f"{self.folder}{file}{place}: {message}")
        elif len(self.told) == NAMED:
            self.told.append(f"{self.folder}{file}: there are more faults than these.")


@dataclass(frozen=True)
class Told:
    """What a record tells of one entry, and the members that it says are withheld."""

    sequence: int
    kind: str
    election: object
    members: Mapping[str, object]
    withheld: Sequence[str]


def check(
    files: Mapping[str, bytes], folder: str, lines: Sequence[bytes], faults: Faults
) -> list[Told]:
    """Hold every disclosure and every redaction against the line of its entry; what they tell."""
    try:
        disclosures = json_of(files, folder + content.DISCLOSURES)
        redactions = _redactions(files, folder + content.REDACTIONS)
    except InputError as error:
        faults.told.append(str(error))
        return []
    for name in disclosures.keys() - {str(at) for at in range(1, len(lines) + 1)}:
        faults.add(content.DISCLOSURES, None, f"there is no entry '{name:.20}'.")
    for number in redactions.keys() - set(range(1, len(lines) + 1)):
        faults.add(content.REDACTIONS, None, f"there is no entry {number}.")
    found, seen = [], dict[str, int]()
    for sequence, line in enumerate(lines, 1):
        named = redactions.get(sequence, [])
        told = _entry(line, disclosures.get(str(sequence), []), named, sequence, faults)
        if told is None:
            continue
        found.append(told)
        # The id as JSON: what is no text can be the same as well.
        own = json.dumps(told.members["id"]) if "id" in told.members else f"entry {sequence}"
        if (first := seen.setdefault(own, sequence)) != sequence:
            faults.add(content.DISCLOSURES, sequence, f"it has the id of entry {first}.")
    return found


def _entry(
    line: bytes, disclosures: object, named: Sequence[str], sequence: int, faults: Faults
) -> Told | None:
    """One entry; None where its line or its disclosures cannot be read."""
    leaf = _leaf(line)
    if leaf is None:
        faults.add(content.LEDGER, sequence, "the line is not the JSON of an entry.")
        return None
    if not isinstance(disclosures, list):
        faults.add(content.DISCLOSURES, sequence, "its disclosures are not a list.")
        return None
    members = _members(disclosures, leaf["_sd"], sequence, faults)
    hidden = len(leaf["_sd"]) - len(members)
    if hidden != len(named):
        faults.add(
            content.REDACTIONS,
            sequence,
            f"{hidden} members are not disclosed, and {len(named)} are said to be withheld.",
        )
    if len(set(named)) != len(named):
        faults.add(content.REDACTIONS, sequence, "a member is said to be withheld twice.")
    for name in set(named) & members.keys():
        faults.add(content.REDACTIONS, sequence, f"{name} is withheld and yet disclosed.")
    faults.disclosed, faults.hidden = faults.disclosed + len(members), faults.hidden + hidden
    return Told(sequence, str(leaf.get("kind")), leaf.get("election"), members, named)


def _members(
    told: Sequence[object], digests: Sequence[str], sequence: int, faults: Faults
) -> dict[str, object]:
    """The disclosed members by name; each disclosure's digest must be in the line."""
    members: dict[str, object] = {}
    known = set(digests)
    for one in told:
        parts = _parts(one)
        if parts is None:
            faults.add(content.DISCLOSURES, sequence, "one is not a disclosure (RFC 9901, 4.2.1).")
            continue
        name, value, digested = parts
        if digested not in known:
            faults.add(
                content.DISCLOSURES,
                sequence,
                f"{name:.60} is not what was signed: its digest is not in the entry.",
            )
        elif name in members:
            faults.add(content.DISCLOSURES, sequence, f"{name:.60} is disclosed twice.")
        else:
            members[name] = value
    return members


def _parts(told: object) -> tuple[str, object, str] | None:
    """Name, value and digest of a disclosure; None where it is not one."""
    try:
        text = str(told)
        raw = base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
        salt, name, value = json.loads(raw)
        digested = digest(text)
    except (ValueError, TypeError, RecursionError):
        return None
    return (name, value, digested) if isinstance(salt, str) and isinstance(name, str) else None


def _leaf(line: bytes) -> dict[str, Any] | None:
    try:
        told = json.loads(line)
    except (ValueError, RecursionError):
        return None
    digests = told.get("_sd") if isinstance(told, dict) else None
    if not isinstance(digests, list) or not all(isinstance(one, str) for one in digests):
        return None
    return dict(told)


def _redactions(files: Mapping[str, bytes], name: str) -> dict[int, list[str]]:
    found: dict[int, list[str]] = {}
    for one in _parsed(files, name, list):
        if not isinstance(one, dict) or type(one.get("sequence")) is not int:
            raise InputError(f"{name}: an item does not name the entry that it is about.")
        if not one.get("reason"):
            raise InputError(f"{name}: entry {one['sequence']} is withheld without a reason.")
        if not isinstance(one.get("member"), str):
            raise InputError(f"{name}: entry {one['sequence']}: a redaction names no member.")
        found.setdefault(one["sequence"], []).append(one["member"])
    return found


def proofs_of(files: Mapping[str, bytes], name: str) -> list[list[bytes]]:
    """The inclusion proofs, in the order of entries. Raises InputError."""
    proofs = []
    for number, line in enumerate(bytes_of(files, name).splitlines(), 1):
        try:
            told = json.loads(line)
            if told["sequence"] != number:
                raise InputError(f"{name}, line {number}: it is of entry {told['sequence']}.")
            proofs.append([base64.b64decode(part, validate=True) for part in told["proof"]])
        except (ValueError, TypeError, KeyError, RecursionError):
            raise InputError(f"{name}, line {number}: it is not a proof.") from None
    return proofs


def steps_of(files: Mapping[str, bytes], name: str) -> list[tuple[int, int, list[bytes]]]:
    """The consistency proofs: from which size to which. Raises InputError."""
    try:
        return [
            (
                _size(step["old"]),
                _size(step["new"]),
                [base64.b64decode(part, validate=True) for part in step["proof"]],
            )
            for step in _parsed(files, name, list)
        ]
    except (ValueError, TypeError, KeyError):
        raise InputError(f"{name}: a step is not old, new and proof.") from None


def _size(told: object) -> int:
    """A number of entries. A fraction or an infinite number (1e999) is none."""
    if type(told) is not int or told < 0:
        raise ValueError
    return told


def json_of(files: Mapping[str, bytes], name: str) -> dict[str, object]:
    """A file that is a JSON object. Raises InputError where it is missing or something else."""
    return dict(_parsed(files, name, dict))


def bytes_of(files: Mapping[str, bytes], name: str) -> bytes:
    """A file that must be there. Raises InputError."""
    if name not in files:
        raise InputError(f"{name} is missing in the record.")
    return files[name]


def _parsed(files: Mapping[str, bytes], name: str, kind: type[Kind]) -> Kind:
    data = bytes_of(files, name)
    try:
        told = json.loads(data, object_pairs_hook=_once)
    except (ValueError, RecursionError) as error:
        raise InputError(f"{name} is not JSON: {error}.") from None
    if not isinstance(told, kind):
        raise InputError(f"{name} is not a JSON {'list' if kind is list else 'object'}.")
    return told


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object, if no member stands in it twice: readers differ in which of the two they take."""
    told = dict(pairs)
    if len(told) != len(pairs):
        raise ValueError("an object has a member twice")
    return told
