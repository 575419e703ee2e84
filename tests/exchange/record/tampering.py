"""What somebody could do to a record's zip: one change each, at a random place."""

from __future__ import annotations

import json
from collections.abc import Callable
from random import Random

from kb.exchange.record import content

Files = dict[str, bytes]


def lines_of(files: Files) -> list[bytes]:
    return files[content.LEDGER].split(b"\n")[:-1]


def with_lines(files: Files, lines: list[bytes]) -> Files:
    return files | {content.LEDGER: b"".join(line + b"\n" for line in lines)}


def bit_changed(files: Files, random: Random) -> tuple[Files, str]:
    """One bit of one line; the line's number must be named."""
    lines = lines_of(files)
    at = random.randrange(len(lines))
    line = bytearray(lines[at])
    line[random.randrange(len(line))] ^= 1 << random.randrange(8)
    lines[at] = bytes(line)
    # A changed bit may make a line break, and so two lines of one.
    return with_lines(files, lines), f"line {at + 1}:"


def event_dropped(files: Files, random: Random) -> tuple[Files, str]:
    """A line goes, its disclosures with it, and all that follows moves up."""
    lines = lines_of(files)
    at = random.randrange(len(lines))
    del lines[at]
    told = json.loads(files[content.DISCLOSURES])
    kept = [told[str(number)] for number in range(1, len(told) + 1) if number != at + 1]
    moved = {str(number): one for number, one in enumerate(kept, 1)}
    changed = files | {content.DISCLOSURES: json.dumps(moved).encode()}
    last = at == len(lines)
    return with_lines(changed, lines), "are missing" if last else f"line {at + 1}:"


def two_swapped(files: Files, random: Random) -> tuple[Files, str]:
    """Two lines change places, and their disclosures as well."""
    lines = lines_of(files)
    one, two = sorted(random.sample(range(len(lines)), 2))
    lines[one], lines[two] = lines[two], lines[one]
    told = json.loads(files[content.DISCLOSURES])
    first, second = str(one + 1), str(two + 1)
    told[first], told[second] = told[second], told[first]
    changed = files | {content.DISCLOSURES: json.dumps(told).encode()}
    return with_lines(changed, lines), f"line {one + 1}:"


def event_added(files: Files, random: Random) -> tuple[Files, str]:
    """A line of another event comes in between, or at the end."""
    lines = lines_of(files)
    at = random.randrange(len(lines) + 1)
    lines.insert(at, lines[random.randrange(len(lines))].replace(b"closed", b"Closed") + b" ")
    place = "signed by nobody" if at == len(lines) - 1 else f"line {at + 1}:"
    return with_lines(files, lines), place


def disclosure_exchanged(files: Files, random: Random) -> tuple[Files, str]:
    """A disclosure of one entry is put in place of one of another."""
    told = json.loads(files[content.DISCLOSURES])
    one, two = random.sample(sorted(told), 2)
    told[one][random.randrange(len(told[one]))] = random.choice(told[two])
    return files | {content.DISCLOSURES: json.dumps(told).encode()}, f"entry {one}:"


def value_rewritten(files: Files, random: Random) -> tuple[Files, str]:
    """A disclosure is written anew with another value."""
    told = json.loads(files[content.DISCLOSURES])
    one = random.choice(sorted(told))
    at = random.randrange(len(told[one]))
    told[one][at] = told[one][at][:-2] + ("AA" if told[one][at][-2:] != "AA" else "BB")
    return files | {content.DISCLOSURES: json.dumps(told).encode()}, f"entry {one}:"


WAYS: dict[str, Callable[[Files, Random], tuple[Files, str]]] = {
    "one bit changed": bit_changed,
    "one event dropped": event_dropped,
    "two swapped": two_swapped,
    "one added": event_added,
    "a disclosure exchanged": disclosure_exchanged,
    "a disclosure rewritten": value_rewritten,
}
