"""Whether a picture is a plain JPEG: no place, no owner, no thumbnail, nothing but the picture.

What a camera writes beside the picture (position, time, owner, device) stands in segments of its
own (ISO/IEC 10918-1, annex B; Exif 2.3 in APP1). The phone draws each picture anew before it is
sent, which leaves none of them; here it is checked, since a record keeps what it has.
"""

from __future__ import annotations

START, SCAN, END = 0xD8, 0xDA, 0xD9
# JFIF itself, and the profile of colours, tell of nobody.
HARMLESS = {0xE0: b"JFIF\0", 0xE2: b"ICC_PROFILE\0"}
COMMENT = 0xFE


def fault(data: bytes) -> str:
    """Why these bytes may not be kept as a picture; empty where they may."""
    if data[:2] != bytes([0xFF, START]) or data[-2:] != bytes([0xFF, END]):
        return "This is no JPEG picture, or only a part of one."
    at = 2
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            return "This JPEG picture is damaged."
        marker, length = data[at + 1], int.from_bytes(data[at + 2 : at + 4], "big")
        if marker == SCAN:
            return ""
        content = data[at + 4 : at + 2 + length]
        told = 0xE0 <= marker <= 0xEF and not content.startswith(HARMLESS.get(marker, b"\xff"))
        if told or marker == COMMENT:
            return "This picture says where or with what it was taken; it was not stored."
        if length < 2:
            return "This JPEG picture is damaged."
        at += 2 + length
    return "This is no JPEG picture, or only a part of one."
