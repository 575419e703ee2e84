"""Signed notes against the examples of C2SP, of Go's note package and of RFC 8032."""

from __future__ import annotations

import base64

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from kb.base.errors import InputError
from kb.incidents.notes import (
    Signer,
    make_signer,
    open_note,
    read_signer,
    read_verifier,
    sign,
)

# C2SP signed-note, section "Example" (github.com/C2SP/C2SP, signed-note.md, CC BY 4.0).
C2SP_KEY = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k"
C2SP_NOTE = (
    "This is an example message.\n\n— example.com/foo "
    "Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZXsYjOBH3mFXmRKuwHjG1Yu72IneyaQM=\n"
)

# golang.org/x/mod, sumdb/note, the package's example and its test (BSD-3-Clause).
GO_SECRET = "PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz"
GO_KEY = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW"
GO_TEXT = (
    "If you think cryptography is the answer to your problem,\n"
    "then you don't know what your problem is.\n"
)
GO_SIGNATURE = (
    "— PeterNeumann "
    "x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n"
)

# RFC 8032, section 7.1, tests 1 and 2: secret key, public key, message, signature.
RFC_8032 = (
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        (
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
            "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"
        ),
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        (
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
            "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
        ),
    ),
)

MINE = make_signer("our-county.latchbook")
OTHER = make_signer("our-county.latchbook")


def test_the_example_of_c2sp_opens() -> None:
    assert open_note(C2SP_NOTE, [read_verifier(C2SP_KEY)]) == "This is an example message.\n"
    assert str(read_verifier(C2SP_KEY)) == C2SP_KEY
    assert read_verifier(C2SP_KEY).id.hex() == "530d903a"


def test_the_example_of_go_is_signed_byte_for_byte() -> None:
    signer = read_signer(GO_SECRET)
    assert sign(GO_TEXT, signer) == f"{GO_TEXT}\n{GO_SIGNATURE}"
    assert str(signer.verifier) == GO_KEY
    assert signer.secret() == GO_SECRET


@pytest.mark.parametrize(("secret", "public", "message", "signature"), RFC_8032)
def test_keys_and_signatures_of_rfc_8032(
    secret: str, public: str, message: str, signature: str
) -> None:
    signer = Signer("rfc8032", Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret)))
    assert signer.verifier.key.public_bytes_raw().hex() == public
    assert signer.key.sign(bytes.fromhex(message)).hex() == signature


@given(st.text(st.characters(min_codepoint=32, exclude_categories=["Cs"]), min_size=1))
def test_what_is_signed_opens_again(line: str) -> None:
    text = f"{line}\n\nsecond part\n"
    assert open_note(sign(text, MINE), [OTHER.verifier, MINE.verifier]) == text


def test_a_note_of_many_keys_opens_with_one_of_them() -> None:
    line = sign(GO_TEXT, MINE).rpartition("\n\n")[2]
    both = f"{GO_TEXT}\n{line}{GO_SIGNATURE}"
    assert open_note(both, [read_verifier(GO_KEY)]) == GO_TEXT
    assert open_note(both, [MINE.verifier]) == GO_TEXT


def test_a_stranger_of_the_same_name_does_not_count() -> None:
    with pytest.raises(InputError, match="not signed by a key that is trusted"):
        open_note(sign(GO_TEXT, OTHER), [MINE.verifier])
    with pytest.raises(InputError, match="no key at all"):
        open_note(sign(GO_TEXT, OTHER), [])


def test_a_false_signature_beside_a_true_one_spoils_the_note() -> None:
    """C2SP: if a signature from a known key fails to verify, the whole note is rejected."""
    good, other = sign("one\n", MINE), sign("two\n", OTHER)
    mixed = good + other.rpartition("\n\n")[2]
    assert open_note(mixed, [MINE.verifier]) == "one\n"
    with pytest.raises(InputError, match="is false"):
        open_note(mixed, [MINE.verifier, OTHER.verifier])


def test_every_bit_of_a_note_counts() -> None:
    note = C2SP_NOTE.encode()
    known = [read_verifier(C2SP_KEY)]
    for bit in range(8 * len(note)):
        changed = bytearray(note)
        changed[bit // 8] ^= 1 << bit % 8
        try:
            text = changed.decode()
        except UnicodeDecodeError:
            continue
        with pytest.raises(InputError):
            open_note(text, known)


@pytest.mark.parametrize(
    "note",
    [
        "",
        "text only\n",
        "text\n\n",
        "\n\n— a AAAAAAAA\n",
        "text\n\n— a\n",
        "text\n\n— a AAAA\n",
        "text\n\n- a AAAAAAAA\n",
        "text\n\n— a AAAAAAAB=\n",
        "text\n\n— a+b AAAAAAAA\n",
        "text\n\n— a AAAAAAAA",
        "text\r\n\n— a AAAAAAAA\n",
        C2SP_NOTE + "trailing",
        "text\n\n" + "— a AAAAAAAA\n" * 65,
    ],
)
def test_what_is_no_note_is_refused(note: str) -> None:
    with pytest.raises(InputError):
        open_note(note, [read_verifier(C2SP_KEY)])


def test_sixteen_signatures_are_few_enough() -> None:
    """C2SP: verifiers must accept at least up to 16 signatures."""
    assert open_note(C2SP_NOTE + "— a AAAAAAAA\n" * 15, [read_verifier(C2SP_KEY)])


@pytest.mark.parametrize("text", ["", "no newline", "\nbegins empty\n", "bell\a\n", "tab\t\n"])
def test_what_no_note_can_hold_is_not_signed(text: str) -> None:
    with pytest.raises(InputError):
        sign(text, MINE)


@pytest.mark.parametrize("name", ["", "two words", "a+b", "a\u00a0b", "a\u2003b", "a\nb", "a\x00"])
def test_names_that_c2sp_does_not_allow(name: str) -> None:
    with pytest.raises(InputError, match="cannot name a key"):
        make_signer(name)


@pytest.mark.parametrize(
    "line",
    [
        "",
        "example.com/foo",
        C2SP_KEY.replace("530d903a", "530d903b"),
        C2SP_KEY.replace("example.com", "example.org"),
        C2SP_KEY[:-4],
        C2SP_KEY.replace("+Aeky", "+Beky"),
        "example.com/foo+530d903a+" + base64.b64encode(bytes(33)).decode(),
    ],
)
def test_a_verifier_key_copied_wrongly_is_refused(line: str) -> None:
    with pytest.raises(InputError):
        read_verifier(line)


def test_a_broken_signing_key_is_not_shown() -> None:
    for line in (GO_SECRET[:-4], GO_SECRET[3:], GO_SECRET.replace("c74f", "c74e")):
        with pytest.raises(InputError) as caught:
            read_signer(line)
        assert GO_SECRET[-20:-4] not in str(caught.value)
