"""A picture that says where it was taken is not kept (ISO/IEC 10918-1 annex B; Exif 2.3, 4.5)."""

from __future__ import annotations

import pytest

from kb.incidents.jpeg import fault


def segment(marker: int, content: bytes) -> bytes:
    return bytes([0xFF, marker]) + (len(content) + 2).to_bytes(2, "big") + content


JFIF = segment(0xE0, b"JFIF\0\x01\x01\0\0\x01\0\x01\0\0")
TABLE = segment(0xDB, b"\0" * 65)
SCAN = segment(0xDA, b"\x01\x01\0\0\x3f\0") + b"picture"


def picture(*segments: bytes) -> bytes:
    return b"\xff\xd8" + b"".join(segments) + SCAN + b"\xff\xd9"


def test_a_plain_picture_is_kept() -> None:
    assert fault(picture(JFIF, TABLE)) == ""
    assert fault(picture(JFIF, segment(0xE2, b"ICC_PROFILE\0\x01\x01rest"), TABLE)) == ""


@pytest.mark.parametrize(
    "told",
    [
        segment(0xE1, b"Exif\0\0II*\0"),
        segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x/>"),
        segment(0xED, b"Photoshop 3.0\0"),
        segment(0xE2, b"MPF\0"),
        segment(0xFE, b"a comment"),
        segment(0xE0, b"JFXX\0\x10thumbnail"),
    ],
)
def test_a_picture_that_tells_more_is_not(told: bytes) -> None:
    assert "says where or with what" in fault(picture(JFIF, told, TABLE))


@pytest.mark.parametrize(
    "data", [b"", b"\x89PNG\r\n", picture(JFIF)[:-1], b"\xff\xd8\xff\xd9", b"\xff\xd8zz\xff\xd9"]
)
def test_what_is_no_jpeg_is_told(data: bytes) -> None:
    assert fault(data)
