"""Check a record: everything that can be checked off line, each fault with its place.

Nothing here trusts the program that made the record: leaves are hashed as the bytes they are,
roots and proofs are worked out anew, signatures are checked with a key from outside where one
is given. All faults are told, not the first alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from kb.base.errors import InputError
from kb.exchange.record import beside, content, entries
from kb.exchange.record.again import withheld_wrongly
from kb.exchange.record.entries import Faults, Told
from kb.exchange.record.unpack import shown
from kb.incidents.checkpoint import Checkpoint, origin, parse
from kb.incidents.leaf import leaf_hash
from kb.incidents.merkle import nodes_over, root_at, verify_consistency, verify_inclusion
from kb.incidents.notes import Verifier, open_note, read_verifier

# How many single entries are named before the rest is only counted.
NAMED = 20


# Where the logs of a record lie: the election's at the root, the county's beside it.
_FOLDERS = ("", content.COUNTY)


class Point(NamedTuple):
    """A checkpoint that the key signed, and the file it stands in."""

    name: str
    signed: Checkpoint


@dataclass
class Result:
    """What was checked and what was found. Without faults the record holds."""

    faults: list[str] = field(default_factory=list)
    told: list[str] = field(default_factory=list)

    @property
    def holds(self) -> bool:
        """Whether everything fits."""
        return not self.faults


def verify(
    files: Mapping[str, bytes],
    outside: Sequence[str] | Mapping[str, str] = (),
    key: Verifier | None = None,
) -> Result:
    """Check the files of a record, by name.

    `outside`: signed checkpoints that were kept elsewhere, by the names of their files where
    they have any. `key`: the office's public key from elsewhere; it beats the one in the zip.
    """
    named = outside if isinstance(outside, Mapping) else _numbered(outside)
    result = _checked(files, named, key)
    # What stands in a record may have been written to look like words of this program.
    return Result(list(map(shown, result.faults)), list(map(shown, result.told)))


def _numbered(outside: Sequence[str]) -> dict[str, str]:
    return {f"checkpoint {at} from outside": note for at, note in enumerate(outside, 1)}


def _checked(
    files: Mapping[str, bytes], outside: Mapping[str, str], key: Verifier | None
) -> Result:
    result = Result()
    faults = result.faults.append
    try:
        about = entries.json_of(files, content.ABOUT)
        own = read_verifier(entries.bytes_of(files, content.KEY).decode("utf-8", "replace").strip())
    except InputError as error:
        faults(str(error))
        return result
    if about.get("format") != content.FORMAT or about.get("version") != content.VERSION:
        faults(f"{content.ABOUT} does not name a record that this program knows.")
        return result
    trusted = key or own
    if key and str(key) != str(own):
        faults(f"{content.KEY} is not the key that was given: {own.name} ({own.id.hex()}).")
    result.faults += _said_wrongly(about)
    logs = _logs(about, trusted)
    result.faults += _outside(outside, logs, trusted)
    public = about.get("public") is True
    for log in logs:
        result.faults += log.check(files, public=public)
        result.told += [log.summary] if log.summary else []
    result.faults += beside.names(files, public=public)
    result.faults += beside.key_file(files, trusted)
    result.faults += beside.attachments(files, logs[0].entries, public=public)
    if not public and not logs[0].faulty:
        result.faults += beside.table_differs(files.get(content.TABLE, b""), logs[0].entries)
    _as_made(files, logs[0], trusted, result, public=public)
    source = "given from outside" if key else "in the zip: compare it with one from elsewhere"
    result.told.append(f"key {trusted.name} ({trusted.id.hex()}), {source}")
    return result


def _as_made(
    files: Mapping[str, bytes], log: _Log, key: Verifier, result: Result, *, public: bool
) -> None:
    """Hold the files against the list that the office signed, where the record has one."""
    differs = beside.manifest(files, key)
    result.faults += differs or ()
    named = {} if public else beside.named_files(log.entries)
    lacking = list(beside.missing(files, named))
    if differs is None:
        result.faults += lacking
        result.told.append(
            f"{content.MANIFEST} is missing, as in records made before there was one: whether "
            "attachments, table and texts were exchanged or dropped, or a public copy withholds "
            "more than the office did, does not show"
        )
        result.told += beside.missing(files, beside.named_texts(log.entries))
    else:
        # The office signed the list without them: it had them not when it made the record.
        result.told += lacking


def _said_wrongly(about: Mapping[str, object]) -> Iterator[str]:
    """What record.json says of the record, which nobody signed, against what a record is."""
    election, logs = about.get("election"), about.get("logs")
    if not isinstance(election, str) or not election:
        yield f"{content.ABOUT}: it does not say which election the record is of."
    if not isinstance(about.get("public"), bool):
        yield f"{content.ABOUT}: it does not say whether this is a public copy."
    named = set(logs) if isinstance(logs, dict) else set()
    for folder in sorted(named - set(_FOLDERS)):
        yield f"{content.ABOUT}: it names a log in '{folder}'; no record has one there."
    for folder in _FOLDERS:
        if folder not in named:
            whose = "the county's log" if folder else "the log of the election"
            yield f"{content.ABOUT}: {whose} (in '{folder}') is not named; every record has it."


def _logs(about: Mapping[str, object], key: Verifier) -> list[_Log]:
    """The two logs that a record consists of, wherever record.json says they are."""
    # A lone surrogate cannot be part of an address: then no log has that origin.
    election = str(about.get("election", "")).encode("utf-8", "replace").decode()
    said = about.get("logs")
    told = said if isinstance(said, dict) else {}
    return [
        _Log("", origin(key.name, election or "?"), told.get(""), key),
        _Log(content.COUNTY, origin(key.name, ""), told.get(content.COUNTY), key),
    ]


def _outside(outside: Mapping[str, str], logs: Sequence[_Log], key: Verifier) -> Iterator[str]:
    """Give each checkpoint from outside to the log it is of; name each that is of none."""
    for name, note in outside.items():
        try:
            point = parse(open_note(note, [key]))
        except (InputError, ValueError) as error:
            yield f"{name}: it belongs to another log, or another key signed it. {error}"
            continue
        log = next((one for one in logs if one.origin == point.origin), None)
        if log is None:
            own = " and ".join(one.origin for one in logs)
            yield f"{name}: it belongs to another log, {point.origin}; this record has {own}."
        else:
            log.outside.append(Point(name, point))


class _Log:
    """One log of the record: where it lies, what is said of it, and whose key signs."""

    def __init__(self, folder: str, origin: str, told: object, key: Verifier) -> None:
        self.folder = folder
        self.origin = origin
        self.told = told if isinstance(told, dict) else {}
        self.key = key
        self.outside: list[Point] = []
        self.entries: list[Told] = []
        # Until its entries were read and fit.
        self.faulty = True
        self.summary = ""

    def check(self, files: Mapping[str, bytes], *, public: bool) -> Iterator[str]:
        """Every fault of this log."""
        try:
            data = entries.bytes_of(files, self.folder + content.LEDGER)
        except InputError as error:
            yield str(error)
            return
        if not data.endswith(b"\n"):
            yield f"{self.folder}{content.LEDGER}: the last line is cut off."
        lines = data.split(b"\n")[:-1]
        hashes = [leaf_hash(line) for line in lines]
        signed = list(self._notes(files))
        yield from (fault for fault in signed if isinstance(fault, str))
        points = [point for point in signed if isinstance(point, Point)]
        yield from self._said(len(lines))
        yield from self._roots([*points, *self.outside], hashes)
        if points:
            last = max((point.signed for point in points), key=lambda signed: signed.size)
            yield from self._inclusion(files, hashes, last)
            yield from self._consistency(files, points)
        else:
            yield f"{self.folder}{content.CHECKPOINTS}: there is no checkpoint that holds."
        found = Faults(self.folder)
        self.entries = entries.check(files, self.folder, lines, found)
        if not public and not found.told:
            for sequence, wrong in withheld_wrongly(self.entries):
                found.add(content.REDACTIONS, sequence or None, wrong)
        self.faulty = bool(found.told)
        yield from found.told
        fitted = f", {len(self.outside)} compared from outside" if self.outside else ""
        self.summary = (
            f"{self.origin}: {len(lines)} entries, {len(points)} checkpoints{fitted}, "
            f"{found.disclosed} members disclosed, {found.hidden} not "
            f"({'public copy' if public else 'record'})"
        )

    def _notes(self, files: Mapping[str, bytes]) -> Iterator[Point | str]:
        """The checkpoints in the zip, and what is wrong with them."""
        folder = self.folder + content.CHECKPOINTS
        for name in sorted(name for name in files if name.startswith(folder)):
            try:
                point = parse(open_note(files[name].decode("utf-8", "replace"), [self.key]))
            except (InputError, ValueError) as error:
                yield f"{name}: {error}"
                continue
            if point.origin != self.origin:
                yield f"{name}: it is of {point.origin}, not of {self.origin}."
            elif name != f"{folder}{point.size:010}.txt":
                yield f"{name}: it signs {point.size} entries, and its name says something else."
            else:
                yield Point(name, point)

    def _said(self, size: int) -> Iterator[str]:
        """Whether record.json says the same of this log as the log itself."""
        if self.told.get("size") != size:
            said = self.told.get("size")
            ledger = self.folder + content.LEDGER
            yield f"{ledger}: {size} lines, and {content.ABOUT} says {said}."
        if self.told.get("origin") != self.origin:
            said = self.told.get("origin")
            yield f"{content.ABOUT}: it says the log '{self.folder}' is {said}, not {self.origin}."

    def _roots(self, points: Sequence[Point], hashes: Sequence[bytes]) -> Iterator[str]:
        ledger, nodes = self.folder + content.LEDGER, nodes_over(hashes)
        largest = max((point.signed.size for point in points), default=0)
        if points and len(hashes) > largest:
            yield (
                f"{ledger}: {len(hashes)} lines, and the largest checkpoint signs {largest}: "
                f"lines {largest + 1} to {len(hashes)} are signed by nobody."
            )
        for name, point in points:
            if point.size > len(hashes):
                yield (
                    f"{ledger}: {len(hashes)} lines, and {name} signs {point.size}: "
                    "entries are missing."
                )
            elif point.size and root_at(nodes, point.size) != point.root:
                yield (
                    f"{ledger}: the first {point.size} lines are not those that were signed "
                    f"in {name}."
                )

    def _inclusion(
        self, files: Mapping[str, bytes], hashes: Sequence[bytes], last: Checkpoint
    ) -> Iterator[str]:
        """Which single lines are not what was signed: each has a proof of its own."""
        name = self.folder + content.INCLUSION
        try:
            proofs = entries.proofs_of(files, name)
        except InputError as error:
            yield str(error)
            return
        if len(proofs) != last.size:
            yield f"{name}: {len(proofs)} proofs for {last.size} signed entries."
        pairs = zip(hashes, proofs, strict=False)
        bad = [
            at + 1
            for at, (hash_, proof) in enumerate(pairs)
            if not verify_inclusion(hash_, at, last.size, proof, last.root)
        ]
        where = self.folder + content.LEDGER
        for number in bad[:NAMED]:
            yield f"{where}, line {number}: it is not what was signed in this place."
        if len(bad) > NAMED:
            yield f"{where}: {len(bad) - NAMED} more lines up to {bad[-1]} likewise."

    def _consistency(self, files: Mapping[str, bytes], points: Sequence[Point]) -> Iterator[str]:
        name = self.folder + content.CONSISTENCY
        try:
            steps = entries.steps_of(files, name)
        except InputError as error:
            yield str(error)
            return
        roots = {point.size: point.root for _, point in points}
        missing = set(roots) - {size for old, new, _ in steps for size in (old, new)}
        if len(roots) > 1 and (missing - {0}):
            yield f"{name}: nothing leads to the checkpoints of size {_listed(missing)}."
        for old, new, proof in steps:
            before, after = roots.get(old), roots.get(new)
            if before is None or after is None:
                yield f"{name}: the step from {old} to {new} has no checkpoint at both ends."
            elif not verify_consistency(old, new, before, after, proof):
                yield f"{name}: the checkpoint of {new} does not go on from that of {old}."


def _listed(sizes: set[int]) -> str:
    return ", ".join(map(str, sorted(sizes)))
