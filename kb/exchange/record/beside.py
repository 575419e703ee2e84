"""What lies in a record beside its logs: the list of names, the key file, attachments, the table.

The names are a closed list, so that nothing stands in a zip that nobody checked. `manifest.txt`
is a note with the SHA-256 of every other file, signed by the office: with it nothing in the zip
can be exchanged, dropped or withheld by who passes it on. Records made before have none.
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import zip_longest

from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from kb.base.errors import InputError
from kb.exchange.record import content
from kb.exchange.record.again import UNREADABLE, event_of
from kb.exchange.record.entries import Told
from kb.exchange.record.table import table
from kb.exchange.record.unpack import same_name
from kb.incidents.events import Event
from kb.incidents.fold import fold
from kb.incidents.notes import Verifier, open_note

_LOG = (
    content.LEDGER, content.DISCLOSURES, content.REDACTIONS, content.INCLUSION, content.CONSISTENCY,
)  # fmt: skip
_IN_LOGS = {folder + name for folder in ("", content.COUNTY) for name in _LOG}
_BESIDE = {content.README, content.ABOUT, content.KEY, content.KEY_PEM, content.TABLE}
_CHECKPOINT = re.compile(rf"({content.COUNTY})?{content.CHECKPOINTS}[0-9]{{10,}}\.txt")
_ATTACHED = re.compile(rf"{content.ATTACHMENTS}[0-9a-f]{{64}}\.[^/\\]+")
_HASH = re.compile(r"[0-9a-f]{64}")


def names(files: Iterable[str], *, public: bool) -> Iterator[str]:
    """Files that no record has, files that it lacks, and names that some machines take for one."""
    there, needed = set(files), _BESIDE | (set() if public else {content.CERTIFICATE})
    for name in sorted(needed - there):
        yield f"{name} is missing in the record."
    for name in sorted(there - needed - _IN_LOGS - {content.MANIFEST}):
        # What is named otherwise under attachments/ is told with its content.
        known = _CHECKPOINT.fullmatch(name) or name.startswith(content.ATTACHMENTS)
        if not known:
            copy = "public copy" if public else "record"
            yield f"{name}: no {copy} has a file of this name; nothing shows where it is from."
    for plain, times in Counter(map(same_name, there)).items():
        if times > 1:
            yield f"{plain}: {times} names that differ only in case or spelling; only one counts."


def key_file(files: Mapping[str, bytes], key: Verifier) -> Iterator[str]:
    """Whether the key for general tools is the one that signed."""
    pem = key.key.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
    if files.get(content.KEY_PEM, pem).split() != pem.split():
        yield f"{content.KEY_PEM}: it is not the key that signed ({key.name}, {key.id.hex()})."


def manifest(files: Mapping[str, bytes], key: Verifier) -> list[str] | None:
    """What differs from the list that the office signed; None where the record has no list."""
    if content.MANIFEST not in files:
        return None
    try:
        text = open_note(files[content.MANIFEST].decode("utf-8", "replace"), [key])
    except InputError as error:
        return [f"{content.MANIFEST}: {error}"]
    first, *lines = text.removesuffix("\n").split("\n")
    if first != content.MANIFEST_TITLE:
        return [f"{content.MANIFEST}: it is not the list of the files of a record."]
    listed = {name: sum_ for sum_, _, name in (line.partition("  ") for line in lines)}
    there = {
        name: hashlib.sha256(data).hexdigest()
        for name, data in files.items()
        if name != content.MANIFEST
    }
    wrong = sorted(
        name for name in listed.keys() | there.keys() if listed.get(name) != there.get(name)
    )
    return [f"{name}: {_differs(name, listed, there)}" for name in wrong]


def _differs(name: str, listed: Mapping[str, str], there: Mapping[str, str]) -> str:
    if name not in there:
        return f"it is missing; the office signed it in {content.MANIFEST}."
    if name not in listed:
        return f"it is not in {content.MANIFEST}: the office did not put it in."
    return f"it is not the file that the office signed in {content.MANIFEST}."


def attachments(
    files: Mapping[str, bytes], entries: Sequence[Told], *, public: bool
) -> Iterator[str]:
    """Attachments whose content is not their name's, or that no entry names."""
    texts, kept = named_texts(entries), named_files(entries)
    # A public copy made by earlier versions has texts whose entries withhold the name.
    lenient = public and any("body.hash" in one.withheld for one in entries)
    seen: set[str] = set()
    for name, data in sorted(files.items()):
        if not name.startswith(content.ATTACHMENTS):
            continue
        sum_, _, ending = name.removeprefix(content.ATTACHMENTS).partition(".")
        if not _ATTACHED.fullmatch(name) or hashlib.sha256(data).hexdigest() != sum_:
            yield f"{name}: its content does not have the SHA-256 that it is named by."
            continue
        if sum_ in seen:
            yield f"{name}: the same file is there under another name."
        seen.add(sum_)
        is_text = ending == "md" and (sum_ in texts or lenient)
        if not is_text and (public or sum_ not in kept):
            yield f"{name}: no entry names it, so nothing shows where it is from."


def missing(files: Iterable[str], named: Mapping[str, int]) -> Iterator[str]:
    """Files that entries name and that are not there."""
    there = {
        name.removeprefix(content.ATTACHMENTS).partition(".")[0]
        for name in files
        if name.startswith(content.ATTACHMENTS)
    }
    for sum_, sequence in named.items():
        if sum_ not in there:
            yield f"{content.ATTACHMENTS}{sum_} is missing: entry {sequence} names it."


def named_texts(entries: Iterable[Told]) -> dict[str, int]:
    """The texts of trees and articles that entries name, and the first that does."""
    return _named((one.members.get("body.hash"), one) for one in entries)


def named_files(entries: Iterable[Told]) -> dict[str, int]:
    """The pictures and devices' own logs that entries name, and the first that does."""
    told = list(entries)
    pictures = ((one.members.get("body.picture"), one) for one in told)
    logs = ((one.members.get("body.sha256"), one) for one in told if one.kind == "log.received")
    return _named(pictures) | _named(logs)


def _named(told: Iterable[tuple[object, Told]]) -> dict[str, int]:
    found: dict[str, int] = {}
    for value, one in told:
        if isinstance(value, str) and _HASH.fullmatch(value):
            found.setdefault(value, one.sequence)
    return found


def table_differs(data: bytes, entries: Sequence[Told]) -> Iterator[str]:
    """Whether the table is the one that the entries of a record give.

    A case with a correction whose words are withheld cannot be told again: of it only case and
    number are compared.
    """
    try:
        again, unseen = _table(entries)
        if data == again:
            return
        rows = (list(csv.reader(io.StringIO(one.decode(), newline=""))) for one in (data, again))
        for number, (there, wanted) in enumerate(zip_longest(*rows), 1):
            short = 2 if wanted and wanted[0] in unseen else None
            if there is None or wanted is None or there[:short] != wanted[:short]:
                yield f"{content.TABLE}, row {number}: it is not what the entries give."
                return
    except (*UNREADABLE, csv.Error) as error:
        yield f"{content.TABLE}: it cannot be compared with the entries: {error!r}."


def _table(entries: Sequence[Told]) -> tuple[bytes, set[str]]:
    """The table made again, and the cases that cannot be told again. Numbers go in ledger order."""
    groups: dict[str, list[Event]] = {}
    for one in entries:
        event = event_of(one)
        if event.incident is not None:
            groups.setdefault(event.incident, []).append(event)
    unseen = {str(one.members["incident"]) for one in entries if "body.replacement" in one.withheld}
    cases = [(number, fold(events)) for number, events in enumerate(groups.values(), 1)]
    return table(cases, {}, public=False), unseen
