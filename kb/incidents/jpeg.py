"""Whether a picture is a plain JPEG: no place, no owner, no thumbnail, nothing but the picture.

What a camera writes beside the picture (position, time, owner, device) stands in segments of its
own (ISO/IEC 10918-1, annex B; Exif 2.3 in APP1). The phone draws each picture anew before it is
sent, which leaves none of them; here it is checked, since a record keeps what it has. So the whole
file is walked, from its start to its end: such segments may stand between the scans as well, and
a second picture, or anything else, behind the end.
"""

from __future__ import annotations

import re

START, SCAN, END, FILL = 0xD8, 0xDA, 0xD9, 0xFF
COMMENT = 0xFE
# JFIF itself without a thumbnail, and the profile of colours, tell of nobody.
HARMLESS = {
    0xE0: re.compile(rb"JFIF\0.{9}", re.DOTALL),
    0xE2: re.compile(rb"ICC_PROFILE\0.*", re.DOTALL),
}
# Frames and tables: SOF0 to SOF15 with DHT and DAC, SOS, DQT, DNL, DRI.
OF_THE_PICTURE = frozenset({*range(0xC0, 0xC8), *range(0xC9, 0xD0), SCAN, 0xDB, 0xDC, 0xDD})
# The marker at which the coded data of a scan ends: no stuffed zero, no restart within it.
AFTER_SCAN = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")

NO_JPEG = "This is no JPEG picture, or only a part of one."
DAMAGED = "This JPEG picture is damaged."
TELLS = "This picture says where or with what it was taken; it was not stored."
MORE = "There is something behind the end of this picture, so it was not stored. Send it alone."


def fault(data: bytes) -> str:
    """Why these bytes may not be kept as a picture; empty where they may."""
    if data[:2] != bytes([FILL, START]):
        return NO_JPEG
    at, scanned = 2, False
    while at + 2 <= len(data):
        marker = data[at + 1]
        if data[at] == FILL == marker:
            at += 1
        elif data[at] == FILL and marker == END:
            return _fault_of_end(data, at + 2, scanned=scanned)
        elif problem := _fault_of_segment(data, at):
            return problem
        else:
            at += 2 + _length(data, at)
            if marker == SCAN:
                at, scanned = _end_of_scan(data, at), True
    return NO_JPEG


def _fault_of_end(data: bytes, end: int, *, scanned: bool) -> str:
    if not scanned:
        return NO_JPEG
    return MORE if end < len(data) else ""


def _fault_of_segment(data: bytes, at: int) -> str:
    """Why the segment that begins here may not be kept."""
    marker, length = data[at + 1], _length(data, at)
    if data[at] != FILL:
        return DAMAGED
    if 0xE0 <= marker <= 0xEF or marker == COMMENT:
        harmless = HARMLESS.get(marker)
        content = data[at + 4 : at + 2 + length]
        return "" if harmless and harmless.fullmatch(content) else TELLS
    return "" if marker in OF_THE_PICTURE and length >= 2 else DAMAGED


def _length(data: bytes, at: int) -> int:
    """How long the segment that begins here says it is, its marker not counted."""
    return int.from_bytes(data[at + 2 : at + 4], "big")


def _end_of_scan(data: bytes, at: int) -> int:
    found = AFTER_SCAN.search(data, at)
    return found.start() if found else len(data)
