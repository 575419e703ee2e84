"""What gets a warning. The numbers are invented: 555-01xx, and numbers never issued."""

from __future__ import annotations

import pytest

from kb.incidents.personal import looks_personal

SSN, PHONE, MAIL = "a social security number", "a telephone number", "an e-mail address"
BIRTH, LICENSE, VOTER = "a birth date", "a driver's license number", "a voter's number"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # 078-05-1120 is the number that the Social Security Administration voided because a
        # wallet maker printed it (from memory).
        ("her number is 078-05-1120", [SSN]),
        ("078 05 1120", [SSN]),
        ("SSN ends in 1120", [SSN]),
        ("call me at 555-0142", [PHONE]),
        ("(212) 555-0142 please", [PHONE]),
        ("+1 212 555 0142", [PHONE]),
        ("212.555.0142", [PHONE]),
        ("cell 2125550142", [PHONE]),
        ("write to a.b+c@mail.example.org", [MAIL]),
        ("she was born 3 May 1948", [BIRTH]),
        ("DOB 5/3/48", [BIRTH]),
        ("05/03/1948", [BIRTH]),
        ("1948-05-03", [BIRTH]),
        ("license D123-4567-8901", [LICENSE]),
        ("driver's licence no. 99123456", [LICENSE]),
        ("voter id 00482913", [VOTER]),
        ("voter no. 482913 is not in the book", [VOTER]),
        ("born 1948, cell 555-0142", [PHONE, BIRTH]),
    ],
)
def test_it_warns(text: str, expected: list[str]) -> None:
    assert looks_personal(text) == expected


@pytest.mark.parametrize(
    "text",
    [
        "",
        "ballot stuck at the slot, counter 1123",
        "seal K0048213 off, K0048214 on",
        "scanner SC000123 swapped for SC000124",
        "counter 112 before, 113 after, protective 90412",
        "since 10:42, about 35 voters in line",
        "opened 2026-11-03 at 07:00",
        "precinct 0045-12, page 3-10",
        "000-12-3456 is a part number",
        "voter waits 20 minutes",
    ],
)
def test_it_keeps_quiet(text: str) -> None:
    assert looks_personal(text) == []
