"""Canonical JSON and disclosures against the examples that RFC 8785 and RFC 9901 publish.

The values were taken as the test suites of several other implementations quote the two RFCs, in
agreement with each other. A leaf needs both: its disclosures as RFC 9901 forms them, itself as
RFC 8785 writes it.
"""

from __future__ import annotations

import base64
import json
import struct

import pytest
import rfc8785

from kb.incidents.leaf import digest, disclosure

# RFC 8785, section 3.2.2: the sample as it comes in; section 3.2.4: the bytes that come out.
SAMPLE = r"""{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}"""
SAMPLE_BYTES = """
7b 22 6c 69 74 65 72 61 6c 73 22 3a 5b 6e 75 6c 6c 2c 74 72 75 65 2c 66 61 6c 73 65 5d 2c 22 6e
75 6d 62 65 72 73 22 3a 5b 33 33 33 33 33 33 33 33 33 2e 33 33 33 33 33 33 33 2c 31 65 2b 33 30
2c 34 2e 35 2c 30 2e 30 30 32 2c 31 65 2d 32 37 5d 2c 22 73 74 72 69 6e 67 22 3a 22 e2 82 ac 24
5c 75 30 30 30 66 5c 6e 41 27 42 5c 22 5c 5c 5c 5c 5c 22 2f 22 7d
"""

# RFC 8785, section 3.2.3: names are sorted by their UTF-16 code units.
UNSORTED = r"""{
  "\u20ac": "Euro Sign",
  "\r": "Carriage Return",
  "\ufb33": "Hebrew Letter Dalet With Dagesh",
  "1": "One",
  "\ud83d\ude00": "Emoji: Grinning Face",
  "\u0080": "Control",
  "\u00f6": "Latin Small Letter O With Diaeresis"
}"""
SORTED = [
    "Carriage Return", "One", "Control", "Latin Small Letter O With Diaeresis", "Euro Sign",
    "Emoji: Grinning Face", "Hebrew Letter Dalet With Dagesh",
]  # fmt: skip

# RFC 8785, appendix B: the bits of a number (IEEE 754) and how it is written.
NUMBERS = {
    "0000000000000000": "0",
    "8000000000000000": "0",
    "0000000000000001": "5e-324",
    "8000000000000001": "-5e-324",
    "7fefffffffffffff": "1.7976931348623157e+308",
    "ffefffffffffffff": "-1.7976931348623157e+308",
    "4340000000000000": "9007199254740992",
    "c340000000000000": "-9007199254740992",
    "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af5": "9.999999999999997e+22",
    "44b52d02c7e14af6": "1e+23",
    "44b52d02c7e14af7": "1.0000000000000001e+23",
    "444b1ae4d6e2ef4e": "999999999999999700000",
    "444b1ae4d6e2ef4f": "999999999999999900000",
    "444b1ae4d6e2ef50": "1e+21",
    "3eb0c6f7a0b5ed8c": "9.999999999999997e-7",
    "3eb0c6f7a0b5ed8d": "0.000001",
    "41b3de4355555553": "333333333.3333332",
    "41b3de4355555554": "333333333.33333325",
    "41b3de4355555555": "333333333.3333333",
    "41b3de4355555556": "333333333.3333334",
    "41b3de4355555557": "333333333.33333343",
    "becbf647612f3696": "-0.0000033333333333333333",
    "43143ff3c1cb0959": "1424953923781206.2",
}
NOT_NUMBERS = ("7fffffffffffffff", "7ff0000000000000")

# RFC 9901, section 4.2.1: one claim, written in four ways that are all allowed.
MOBIUS = ["_26bc4LT-ac6q2KI6cBW5es", "family_name", "Möbius"]
SPELLINGS = (
    "WyJfMjZiYzRMVC1hYzZxMktJNmNCVzVlcyIsICJmYW1pbHlfbmFtZSIsICJNw7ZiaXVzIl0",
    "WyJfMjZiYzRMVC1hYzZxMktJNmNCVzVlcyIsICJmYW1pbHlfbmFtZSIsICJNXHUwMGY2Yml1cyJd",
    "WyJfMjZiYzRMVC1hYzZxMktJNmNCVzVlcyIsImZhbWlseV9uYW1lIiwiTcO2Yml1cyJd",
    "WwoiXzI2YmM0TFQtYWM2cTJLSTZjQlc1ZXMiLAoiZmFtaWx5X25hbWUiLAoiTcO2Yml1cyIKXQ",
)

# RFC 9901, section 5.1: salt, name, value, disclosure, digest.
CLAIMS = (
    ("2GLC42sKQveCfGfryNRN9w", "given_name", "John",
     "WyIyR0xDNDJzS1F2ZUNmR2ZyeU5STjl3IiwgImdpdmVuX25hbWUiLCAiSm9obiJd",
     "jsu9yVulwQQlhFlM_3JlzMaSFzglhQG0DpfayQwLUK4"),
    ("eluV5Og3gSNII8EYnsxA_A", "family_name", "Doe",
     "WyJlbHVWNU9nM2dTTklJOEVZbnN4QV9BIiwgImZhbWlseV9uYW1lIiwgIkRvZSJd",
     "TGf4oLbgwd5JQaHyKVQZU9UdGE0w5rtDsrZzfUaomLo"),
    ("6Ij7tM-a5iVPGboS5tmvVA", "email", "johndoe@example.com",
     "WyI2SWo3dE0tYTVpVlBHYm9TNXRtdlZBIiwgImVtYWlsIiwgImpvaG5kb2VAZXhhbXBsZS5jb20iXQ",
     "JzYjH4svliH0R3PyEMfeZu6Jt69u5qehZo7F7EPYlSE"),
    ("eI8ZWm9QnKPpNPeNenHdhQ", "phone_number", "+1-202-555-0101",
     "WyJlSThaV205UW5LUHBOUGVOZW5IZGhRIiwgInBob25lX251bWJlciIsICIrMS0yMDItNTU1LTAxMDEiXQ",
     "PorFbpKuVu6xymJagvkFsFXAbRoc2JGlAUA2BA4o7cI"),
    ("Qg_O64zqAxe412a108iroA", "phone_number_verified", True,
     "WyJRZ19PNjR6cUF4ZTQxMmExMDhpcm9BIiwgInBob25lX251bWJlcl92ZXJpZmllZCIsIHRydWVd",
     "XQ_3kPKt1XyX7KANkqVR6yZ2Va5NrPIvPYbyMvRKBMM"),
    ("Pc33JM2LchcU_lHggv_ufQ", "birthdate", "1940-01-01",
     "WyJQYzMzSk0yTGNoY1VfbEhnZ3ZfdWZRIiwgImJpcnRoZGF0ZSIsICIxOTQwLTAxLTAxIl0",
     "gbOsI4Edq2x2Kw-w5wPEzakob9hV1cRD0ATN3oQL9JM"),
    ("G02NSrQfjFXQ7Io09syajA", "updated_at", 1570000000,
     "WyJHMDJOU3JRZmpGWFE3SW8wOXN5YWpBIiwgInVwZGF0ZWRfYXQiLCAxNTcwMDAwMDAwXQ",
     "CrQe7S5kqBAHt-nMYXgc6bdt2SH5aTY1sU_M-PgkjPI"),
)  # fmt: skip

# RFC 9901, digests of disclosures that a leaf never has: an address with its members in another
# order and with spaces (5.1), elements of arrays (4.2.3, 5.1), letters as escapes (A.1).
DIGESTS = {
    "WyJBSngtMDk1VlBycFR0TjRRTU9xUk9BIiwgImFkZHJlc3MiLCB7InN0cmVldF9hZGRyZXNzIjogIjEyMyBNYWluIFN0"
    "IiwgImxvY2FsaXR5IjogIkFueXRvd24iLCAicmVnaW9uIjogIkFueXN0YXRlIiwgImNvdW50cnkiOiAiVVMifV0": (
        "XzFrzwscM6Gn6CJDc6vVK8BkMnfG8vOSKfpPIZdAfdE"
    ),
    "WyJsa2x4RjVqTVlsR1RQVW92TU5JdkNBIiwgIkZSIl0": "w0I8EKcdCtUPkGCNUrfwVp2xEgNjtoIDlOxc9-PlOhs",
    "WyJsa2x4RjVqTVlsR1RQVW92TU5JdkNBIiwgIlVTIl0": "pFndjkZ_VCzmyTa6UjlZo3dh-ko8aIKQc9DlGzhaVYo",
    "WyJuUHVvUW5rUkZxM0JJZUFtN0FuWEZBIiwgIkRFIl0": "7Cf6JkPudry3lcbwHgeZ8khAv1U1OSlerP0VkBJrWZ0",
    "WyJlbHVWNU9nM2dTTklJOEVZbnN4QV9BIiwgImdpdmVuX25hbWUiLCAiXHU1OTJhXHU5MGNlIl0": (
        "ommFAicVT8LGHCB0uywx7fYuo3MHYKO15cz-RZEYM5Q"
    ),
}


def decoded(text: str) -> object:
    return json.loads(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))


def test_the_sample_of_rfc_8785() -> None:
    assert rfc8785.dumps(json.loads(SAMPLE)) == bytes.fromhex(SAMPLE_BYTES)


def test_the_order_of_names_of_rfc_8785() -> None:
    written = rfc8785.dumps(json.loads(UNSORTED))
    assert list(json.loads(written).values()) == SORTED


@pytest.mark.parametrize(("bits", "written"), NUMBERS.items())
def test_numbers_of_rfc_8785(bits: str, written: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    assert rfc8785.dumps(number).decode() == written


@pytest.mark.parametrize("bits", NOT_NUMBERS)
def test_what_is_no_number_is_refused(bits: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    with pytest.raises(rfc8785.CanonicalizationError):
        rfc8785.dumps(number)


def test_one_claim_in_the_four_spellings_of_rfc_9901() -> None:
    """All say the same and have digests of their own; a leaf's are spelled as the first."""
    assert [decoded(text) for text in SPELLINGS] == [MOBIUS] * 4
    assert len({digest(text) for text in SPELLINGS}) == 4
    assert disclosure(*MOBIUS) == SPELLINGS[0]


@pytest.mark.parametrize(("salt", "name", "value", "text", "hashed"), CLAIMS)
def test_claims_of_rfc_9901(salt: str, name: str, value: object, text: str, hashed: str) -> None:
    assert disclosure(salt, name, value) == text
    assert digest(text) == hashed


@pytest.mark.parametrize(("text", "hashed"), DIGESTS.items())
def test_digests_of_rfc_9901(text: str, hashed: str) -> None:
    assert digest(text) == hashed
