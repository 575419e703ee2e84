"""Write a record's zip out of a county's folder, and read one that came from somewhere."""

from __future__ import annotations

import zipfile
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from tempfile import NamedTemporaryFile

from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from kb.base.clock import format_instant
from kb.base.errors import InputError
from kb.exchange.record import build, content
from kb.exchange.record.content import Log, Record, Redaction
from kb.exchange.record.counters import close
from kb.exchange.record.policy import policy
from kb.exchange.record.public import Policy, redacted, withheld
from kb.exchange.record.table import table
from kb.exchange.record.unpack import read
from kb.incidents.checkpoint import origin
from kb.incidents.events import Event
from kb.incidents.fold import fold
from kb.incidents.leaf import Leaf, leaf_hash
from kb.incidents.notes import sign
from kb.incidents.store import Folder
from kb.incidents.store import keys as key_store

__all__ = ["export", "read"]


def export(  # noqa: PLR0913 - the options of the command
    folder: Folder, election: str, out: Path, classes: Mapping[str, str], *, public: bool,
    now: datetime,
) -> Record:  # fmt: skip
    """Write the record of an election, or its public copy; returns what was written.

    A checkpoint is signed first, so that all that is in the zip is signed. `classes`: the
    equipment class of each article and tree. Raises InputError for an unknown election and
    StateError where there is no key.
    """
    if folder.record.election(election) is None:
        known = ", ".join(one.id for one in folder.record.elections()) or "none yet"
        raise InputError(f"There is no election '{election}'. Those there are: {known}.")
    key = key_store.verifier(folder.path)
    leaves, county_leaves = _signed(folder, election, now), _signed(folder, "", now)
    near = close(_events([*leaves, *county_leaves]))
    log = _log(folder, election, leaves, policy(_events(leaves), classes, near), public=public)
    county_rules = policy(_events(county_leaves), classes, near)
    county_log = _log(folder, "", county_leaves, county_rules, public=public)
    pem = key.key.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
    record = Record(
        election=election,
        county=folder.settings.county,
        made=format_instant(now),
        key=str(key),
        key_pem=pem.decode("ascii"),
        public=public,
        log=log,
        county_log=county_log,
        attachments=_attachments(folder, election, log, public=public),
        table=_table(folder, log, public=public),
    )
    made = dict(build.files(record))
    note = sign(build.manifest(made), key_store.signer(folder.path))
    _write(out, record, made | {content.MANIFEST: note.encode()})
    return record


def _signed(folder: Folder, log: str, now: datetime) -> list[Leaf]:
    """The leaves of a log up to a checkpoint that is signed now."""
    return folder.record.leaves(log, folder.checkpoints.make(log, "asked", now).size)


def _events(leaves: Sequence[Leaf]) -> list[Event]:
    return [leaf.event for leaf in leaves]


def _log(folder: Folder, log: str, leaves: Sequence[Leaf], rules: Policy, *, public: bool) -> Log:
    notes = {one.size: one.note for one in reversed(folder.checkpoints.all(log))}
    key = key_store.verifier(folder.path)
    return Log(
        origin(key.name, log),
        leaves,
        notes,
        [leaf_hash(one.data) for one in leaves],
        [hidden for one in leaves for hidden in _hidden(one, rules, public=public)],
    )


def _hidden(leaf: Leaf, rules: Policy, *, public: bool) -> list[Redaction]:
    reasons = withheld(leaf.event, rules) if public else redacted(leaf.event, rules)
    return [Redaction(leaf.sequence, name, reason) for name, reason in reasons.items()]


def _attachments(folder: Folder, election: str, log: Log, *, public: bool) -> dict[str, bytes]:
    """Texts of the trees that were walked, devices' own logs and pictures, named by their hash.

    The logs are in no public copy, since they tell of ballots in the order of time, and no
    picture is, since nobody can say what else is on it. A redacted picture is in no copy. A text
    is in a copy only where an entry discloses its hash: that of a secret tree is in no public one.
    """
    hidden = {(one.sequence, one.member) for one in log.redactions}
    hashes = _named(log, "hash", hidden)
    texts = {hash_: folder.record.text(hash_) for hash_ in hashes}
    found = {f"{hash_}.md": text.encode() for hash_, text in texts.items() if text is not None}
    if public:
        return found
    kept = {f"{name}.jpg": folder.pictures.get(name) for name in _named(log, "picture", hidden)}
    pictures = {name: data for name, data in kept.items() if data is not None}
    files, told = folder.devicelogs.files(election).items(), _named(log, "sha256", hidden)
    # A log that came in after the checkpoint is of the next record.
    logs = {_plain(name): data for name, data in files if name.partition(".")[0] in told}
    return found | logs | pictures


def _named(log: Log, member: str, hidden: Collection[tuple[int, str]]) -> list[str]:
    """The files that the entries of a log name in this member, where it is disclosed."""
    names = {
        str(leaf.event.body[member])
        for leaf in log.leaves
        if member in leaf.event.body and (leaf.sequence, f"body.{member}") not in hidden
    }
    return sorted(names)


def _plain(name: str) -> str:
    """A hash with its file's ending, if that is a plain one."""
    hash_, _, ending = name.partition(".")
    plain = ending.isascii() and ending.isalnum() and len(ending) <= 10
    return f"{hash_}.{ending if plain else 'log'}"


def _table(folder: Folder, log: Log, *, public: bool) -> bytes:
    groups: dict[str, list[Leaf]] = {}
    for leaf in log.leaves:
        if leaf.event.incident is not None:
            groups.setdefault(leaf.event.incident, []).append(leaf)
    cases = [
        (number, fold(leaf.event for leaf in leaves))
        for name, leaves in groups.items()
        if (number := folder.record.number(name)) is not None
    ]
    return table(sorted(cases, key=lambda case: case[0]), _hidden_by_case(log), public=public)


def _hidden_by_case(log: Log) -> dict[str, set[str]]:
    cases = {leaf.sequence: leaf.event.incident for leaf in log.leaves}
    found: dict[str, set[str]] = {}
    for one in log.redactions:
        if (case := cases[one.sequence]) is not None:
            found.setdefault(case, set()).add(one.member)
    return found


def _write(out: Path, record: Record, files: Mapping[str, bytes]) -> None:
    """All of the zip or none: it gets its name when it is whole."""
    if not out.parent.is_dir():
        raise InputError(f"There is no folder {out.parent} to write {out.name} into.")
    # Its own date in every member: the zip of the same content is the same file.
    at = datetime.fromisoformat(record.made).timetuple()[:6]
    with NamedTemporaryFile(dir=out.parent, prefix=f".{out.name}-", delete=False) as scratch:
        path = Path(scratch.name)
        try:
            with zipfile.ZipFile(scratch, "w", zipfile.ZIP_DEFLATED) as archive:
                for name, data in files.items():
                    info = zipfile.ZipInfo(name, at)
                    info.compress_type = zipfile.ZIP_DEFLATED
                    info.external_attr = 0o644 << 16
                    archive.writestr(info, data)
        except BaseException:
            path.unlink()
            raise
    path.replace(out)
