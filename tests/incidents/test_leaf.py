"""Leaves against the published values of RFC 9901, RFC 6962 and RFC 8785."""

from __future__ import annotations

import base64
import json
from dataclasses import replace

import pytest
import rfc8785

from kb.incidents.leaf import (
    digest,
    disclosed_members,
    disclosure,
    leaf,
    leaf_hash,
    make_salts,
)
from tests.incidents.telling import event, row

# RFC 9901, sections 4.2.1 and 4.2.3: the claim family_name "Möbius", its disclosure and digest.
RFC_9901_SALT = "_26bc4LT-ac6q2KI6cBW5es"
RFC_9901_DISCLOSURE = "WyJfMjZiYzRMVC1hYzZxMktJNmNCVzVlcyIsICJmYW1pbHlfbmFtZSIsICJNw7ZiaXVzIl0"
RFC_9901_DIGEST = "X9yH0Ajrdm1Oij4tWso9UzzKJvPoDxwmuEcO3XAdRC0"

# RFC 6962, section 2.1, and the test of the reference implementation of its Merkle tree
# (transparency-dev/merkle, rfc6962_test.go, Apache-2.0).
RFC_6962_LEAVES = {
    b"": "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    b"L123456": "395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56",
}


def test_disclosure_and_digest_of_rfc_9901() -> None:
    assert disclosure(RFC_9901_SALT, "family_name", "Möbius") == RFC_9901_DISCLOSURE
    assert digest(RFC_9901_DISCLOSURE) == RFC_9901_DIGEST


@pytest.mark.parametrize(("data", "expected"), RFC_6962_LEAVES.items())
def test_leaf_hash_of_rfc_6962(data: bytes, expected: str) -> None:
    assert leaf_hash(data).hex() == expected


def test_a_leaf_shows_election_and_kind_and_hides_the_rest() -> None:
    told = event("note.added", {"text": "lid open", "who_else": "two workers"})
    open_ = json.loads(leaf(told, make_salts(told)))
    assert open_.keys() == {"_sd", "election", "kind"}
    assert (open_["election"], open_["kind"]) == ("e26", "note.added")
    # id, incident, happened, sent, received, actor, and two members of the body.
    assert len(open_["_sd"]) == 8
    assert open_["_sd"] == sorted(open_["_sd"])


def test_a_leaf_is_canonical_json() -> None:
    told = event("note.added", {"text": "“größer” \u2028"})
    data = leaf(told, make_salts(told))
    assert rfc8785.dumps(json.loads(data)) == data
    assert json.dumps(json.loads(data), separators=(",", ":"), sort_keys=True).encode() == data


def test_each_disclosure_decodes_to_salt_name_value_and_its_digest_is_in_the_leaf() -> None:
    told = event("ballots.moved", {"from": "bin", "to": "envelope", "count": 3})
    salts = make_salts(told)
    digests = json.loads(leaf(told, salts))["_sd"]
    for name, value in disclosed_members(told).items():
        text = disclosure(salts[name], name, value)
        padded = text + "=" * (-len(text) % 4)
        assert json.loads(base64.urlsafe_b64decode(padded)) == [salts[name], name, value]
        assert digest(text) in digests
    assert "body.from" in salts


def test_salts_are_128_bits_each_and_never_repeat() -> None:
    told = event("note.added", {"text": "x"})
    salts = [salt for _ in range(50) for salt in make_salts(told).values()]
    assert len(set(salts)) == len(salts)
    assert {len(base64.urlsafe_b64decode(salt + "==")) for salt in salts} == {16}


def test_another_value_or_another_salt_is_another_leaf() -> None:
    told = event("note.added", {"text": "x"})
    salts = make_salts(told)
    other = replace(told, body={"text": "y"})
    assert leaf(told, salts) != leaf(other, salts)
    assert leaf(told, salts) != leaf(told, make_salts(told))


def test_the_mark_of_an_import_is_part_of_the_leaf() -> None:
    line = row("place.recorded", {"place": "P9", "name": "Hall"})
    assert disclosed_members(line)["imported"] is True
