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


EXIF = segment(0xE1, b"Exif\0\0GPS 31.1N 41.2W")
# Stuffed zeros, restarts and filling belong to the coded data; what looks like a segment too.
CODED = b"\xff\x00\xff\xd0..\xff\xd7\xff\x00\xe1" + b"x" * 9


def test_the_scans_of_a_progressive_picture_are_walked() -> None:
    more = segment(0xC4, b"\0" * 20) + SCAN + CODED + b"\xff" + segment(0xDD, b"\0\4") + SCAN
    frame = segment(0xC2, b"\0" * 15)
    assert fault(picture(JFIF, TABLE, frame, SCAN, CODED, more)) == ""


@pytest.mark.parametrize(
    "told", [EXIF, segment(0xE2, b"MPF\0"), segment(0xED, b"x"), segment(0xFE, b"a comment")]
)
def test_what_tells_more_is_found_behind_a_scan(told: bytes) -> None:
    assert "says where or with what" in fault(picture(JFIF, TABLE, SCAN, told))
    assert "says where or with what" in fault(
        picture(JFIF, SCAN, CODED, b"\xff", told, TABLE, SCAN)
    )


@pytest.mark.parametrize(
    "more",
    [picture(EXIF), picture(JFIF), EXIF + b"\xff\xd9", b"PK zip\xff\xd9", b"\0", b"\xff\xd9"],
)
def test_nothing_stands_behind_the_end(more: bytes) -> None:
    assert "behind the end" in fault(picture(JFIF, TABLE) + more)


def test_a_thumbnail_of_jfif_is_not_kept() -> None:
    small = b"JFIF\0\x01\x01\0\0\x01\0\x01\x01\x01" + b"rgb"
    assert "says where or with what" in fault(picture(segment(0xE0, small), TABLE))


@pytest.mark.parametrize("marker", [0x01, 0x02, 0xBF, 0xC8, 0xD8, 0xF0, 0xD0])
def test_segments_that_are_of_no_picture_are_not_kept(marker: int) -> None:
    assert fault(picture(JFIF, segment(marker, b"where: 31.1N"), TABLE))


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\x89PNG\r\n",
        picture(JFIF)[:-1],
        picture()[:-3],
        b"\xff\xd8\xff",
        b"\xff\xd8\xff\xff",
        b"\xff\xd8\xff\xd9",
        b"\xff\xd8zz\xff\xd9",
        b"\xff\xd8\xff\xdb\xff\xff\xff\xd9",
        b"\xff\xd8\xff\xdb\0\0\xff\xd9",
        b"\xff\xd8\xff\xda\xff\xd9",
    ],
)
def test_what_is_no_jpeg_is_told(data: bytes) -> None:
    assert fault(data)


def test_a_long_run_of_filling_is_walked_at_once() -> None:
    filling = b"\xff" * 3_000_000
    assert fault(picture(JFIF, SCAN, filling, b"\0")) == ""
    assert fault(picture(JFIF, SCAN)[:-2] + filling + b"\0")
    assert fault(b"\xff\xd8" + filling)
