"""Check a record: everything that can be checked off line, each fault with its place.

Nothing here trusts the program that made the record: leaves are hashed as the bytes they are,
roots and proofs are worked out anew, signatures are checked with a key from outside where one
is given. All faults are told, not the first alone.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from kb.base.errors import InputError
from kb.exchange.record import content, entries
from kb.exchange.record.entries import Faults
from kb.exchange.record.unpack import shown
from kb.incidents.checkpoint import Checkpoint, parse
from kb.incidents.leaf import leaf_hash
from kb.incidents.merkle import nodes_over, root_at, verify_consistency, verify_inclusion
from kb.incidents.notes import Verifier, open_note, read_verifier

# How many single entries are named before the rest is only counted.
NAMED = 20


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
    files: Mapping[str, bytes], outside: Sequence[str] = (), key: Verifier | None = None
) -> Result:
    """Check the files of a record, by name.

    `outside`: signed checkpoints that were kept elsewhere. `key`: the office's public key from
    elsewhere; it beats the one in the zip.
    """
    result = _checked(files, outside, key)
    # What stands in a record may have been written to look like words of this program.
    return Result(list(map(shown, result.faults)), list(map(shown, result.told)))


def _checked(files: Mapping[str, bytes], outside: Sequence[str], key: Verifier | None) -> Result:
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
    logs = about.get("logs")
    for folder, told in logs.items() if isinstance(logs, dict) else ():
        name = _Log(str(folder), dict(told) if isinstance(told, dict) else {}, trusted)
        result.faults += name.check(files, outside, public=bool(about.get("public")))
        result.told.append(name.summary)
    if outside and not any(_of_record(note, logs, trusted) for note in outside):
        faults("The checkpoint from outside belongs to another log, or another key signed it.")
    result.faults += _attachments(files)
    source = "given from outside" if key else "in the zip: compare it with one from elsewhere"
    result.told.append(f"key {trusted.name} ({trusted.id.hex()}), {source}")
    return result


class _Log:
    """One log of the record: where it lies, what is said of it, and whose key signs."""

    def __init__(self, folder: str, told: Mapping[str, object], key: Verifier) -> None:
        self.folder = folder
        self.origin = str(told.get("origin", ""))
        self.size = told.get("size")
        self.key = key
        self.summary = ""

    def check(
        self, files: Mapping[str, bytes], outside: Sequence[str], *, public: bool
    ) -> Iterator[str]:
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
        signed = list(self._notes(files, outside))
        yield from (fault for fault in signed if isinstance(fault, str))
        points = [point for point in signed if isinstance(point, Checkpoint)]
        yield from self._roots(points, hashes)
        if points:
            last = max(points, key=lambda point: point.size)
            yield from self._inclusion(files, hashes, last)
            yield from self._consistency(files, points)
        else:
            yield f"{self.folder}{content.CHECKPOINTS}: there is no checkpoint that holds."
        found = Faults(self.folder)
        entries.check(files, self.folder, lines, found)
        yield from found.told
        self.summary = (
            f"{self.origin}: {len(lines)} entries, {len(points)} checkpoints, "
            f"{found.disclosed} members disclosed, {found.hidden} not "
            f"({'public copy' if public else 'record'})"
        )

    def _notes(
        self, files: Mapping[str, bytes], outside: Sequence[str]
    ) -> Iterator[Checkpoint | str]:
        inside = [
            (name, data.decode("utf-8", "replace"))
            for name, data in sorted(files.items())
            if name.startswith(self.folder + content.CHECKPOINTS)
        ]
        for name, note in (*inside, *(("the checkpoint from outside", one) for one in outside)):
            try:
                point = parse(open_note(note, [self.key]))
            except (InputError, ValueError) as error:
                if name.startswith(self.folder + content.CHECKPOINTS):
                    yield f"{name}: {error}"
                continue
            if point.origin == self.origin:
                yield point
            elif name.startswith(self.folder + content.CHECKPOINTS):
                yield f"{name}: it is of {point.origin}, not of {self.origin}."

    def _roots(self, points: Sequence[Checkpoint], hashes: Sequence[bytes]) -> Iterator[str]:
        ledger, nodes = self.folder + content.LEDGER, nodes_over(hashes)
        largest = max((point.size for point in points), default=0)
        if self.size != len(hashes):
            yield f"{ledger}: {len(hashes)} lines, and {content.ABOUT} says {self.size}."
        if points and len(hashes) > largest:
            yield (
                f"{ledger}: {len(hashes)} lines, and the largest checkpoint signs {largest}: "
                f"lines {largest + 1} to {len(hashes)} are signed by nobody."
            )
        for point in points:
            if point.size > len(hashes):
                yield (
                    f"{ledger}: {len(hashes)} lines, and a checkpoint signs {point.size}: "
                    "entries are missing."
                )
            elif point.size and root_at(nodes, point.size) != point.root:
                yield f"{ledger}: the first {point.size} lines are not those that were signed."

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

    def _consistency(
        self, files: Mapping[str, bytes], points: Sequence[Checkpoint]
    ) -> Iterator[str]:
        name = self.folder + content.CONSISTENCY
        try:
            steps = entries.steps_of(files, name)
        except InputError as error:
            yield str(error)
            return
        roots = {point.size: point.root for point in points}
        missing = set(roots) - {size for old, new, _ in steps for size in (old, new)}
        if len(roots) > 1 and (missing - {0}) and not self._only_outside(missing, files):
            yield f"{name}: nothing leads to the checkpoints of size {_listed(missing)}."
        for old, new, proof in steps:
            before, after = roots.get(old), roots.get(new)
            if before is None or after is None:
                yield f"{name}: the step from {old} to {new} has no checkpoint at both ends."
            elif not verify_consistency(old, new, before, after, proof):
                yield f"{name}: the checkpoint of {new} does not go on from that of {old}."

    def _only_outside(self, sizes: set[int], files: Mapping[str, bytes]) -> bool:
        """Whether these checkpoints were brought along: the roots themselves were compared."""
        inside = {f"{self.folder}{content.CHECKPOINTS}{size:010}.txt" for size in sizes}
        return inside.isdisjoint(files)


def _of_record(note: str, logs: object, key: Verifier) -> bool:
    try:
        origin = parse(open_note(note, [key])).origin
    except InputError:
        return False
    told = logs.values() if isinstance(logs, dict) else ()
    return any(isinstance(one, dict) and one.get("origin") == origin for one in told)


def _attachments(files: Mapping[str, bytes]) -> Iterator[str]:
    for name, data in sorted(files.items()):
        if name.startswith(content.ATTACHMENTS):
            plain = name.removeprefix(content.ATTACHMENTS).partition(".")[0]
            if hashlib.sha256(data).hexdigest() != plain:
                yield f"{name}: its content does not have the SHA-256 that it is named by."


def _listed(sizes: set[int]) -> str:
    return ", ".join(map(str, sorted(sizes)))
