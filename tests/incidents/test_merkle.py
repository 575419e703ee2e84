"""Trees and proofs against published cases and against the recursive definitions of RFC 9162.

The cases are those of the Merkle tree library of transparency.dev (github.com/transparency-dev/
merkle, commit 417fb0c, testdata/ and testonly/constants.go, Apache-2.0): 98 of inclusion and 98
of consistency, most of them tampered with. All 196 hold, also its conventions for empty trees: a
proof from size 0 is refused, and so is an empty text in place of a leaf's hash.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pymerkle  # type: ignore[import-untyped]
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.incidents import merkle
from kb.incidents.leaf import leaf_hash
from kb.incidents.merkle import (
    EMPTY_ROOT,
    completed,
    consistency_proof,
    inclusion_proof,
    node_hash,
    nodes_over,
    root,
    root_at,
    verify_consistency,
    verify_inclusion,
)

CASES = Path(__file__).parents[1] / "fixtures" / "rfc6962"


def published(name: str) -> Any:
    return json.loads((CASES / name).read_text(encoding="utf-8"))


def raw(text: str | None) -> bytes:
    return base64.b64decode(text or "")


def proof_of(case: dict[str, Any]) -> list[bytes]:
    return [raw(one) for one in case["proof"] or []]


ROOTS = published("roots.json")
LEAVES = [leaf_hash(bytes.fromhex(text)) for text in ROOTS["leaf_inputs"]]
HASHES = [leaf_hash(str(number).encode()) for number in range(70)]


def mth(hashes: Sequence[bytes]) -> bytes:
    """The root as RFC 9162, section 2.1.1, writes it down."""
    if not hashes:
        return hashlib.sha256().digest()
    if len(hashes) == 1:
        return hashes[0]
    k = 1
    while 2 * k < len(hashes):
        k *= 2
    return hashlib.sha256(b"\1" + mth(hashes[:k]) + mth(hashes[k:])).digest()


@pytest.mark.parametrize("case", published("inclusion_proofs.json"), ids=lambda case: case["file"])
def test_published_inclusion(case: dict[str, Any]) -> None:
    verified = verify_inclusion(
        raw(case["leafHash"]), case["leafIdx"], case["treeSize"], proof_of(case), raw(case["root"])
    )
    assert verified is not case["wantErr"]


@pytest.mark.parametrize(
    "case", published("consistency_proofs.json"), ids=lambda case: case["file"]
)
def test_published_consistency(case: dict[str, Any]) -> None:
    verified = verify_consistency(
        case["size1"], case["size2"], raw(case["root1"]), raw(case["root2"]), proof_of(case)
    )
    assert verified is not case["wantErr"]


def test_all_196_are_there() -> None:
    assert len(published("inclusion_proofs.json")) == 98
    assert len(published("consistency_proofs.json")) == 98


def test_published_roots() -> None:
    assert EMPTY_ROOT.hex() == ROOTS["empty_root"]
    assert [root(LEAVES[:size]).hex() for size in range(9)] == ROOTS["root_by_tree_size"]


@pytest.mark.parametrize("level", [0, 1, 2, 3])
def test_published_nodes(level: int) -> None:
    nodes = nodes_over(LEAVES)
    expected = ROOTS[f"node_hashes_level{level}"]
    complete = len(LEAVES) >> level
    assert [nodes(level, at).hex() for at in range(complete)] == expected[:complete]


def test_published_node_hash() -> None:
    """rfc6962/rfc6962_test.go of the same library."""
    assert (
        node_hash(b"N123", b"N456").hex()
        == "aa217fe888e47007fa15edab33c2b492a722cb106c64667fc2b044444de66bbb"
    )


def test_every_published_happy_proof_is_the_one_made_here() -> None:
    nodes = nodes_over(LEAVES)
    made = 0
    for case in published("inclusion_proofs.json"):
        if not case["wantErr"]:
            assert inclusion_proof(nodes, case["leafIdx"], case["treeSize"]) == proof_of(case)
            made += 1
    for case in published("consistency_proofs.json"):
        if case["desc"] == "happy path":
            assert consistency_proof(nodes, case["size1"], case["size2"]) == proof_of(case)
            made += 1
    assert made >= 10


@pytest.mark.parametrize("size", range(70))
def test_root_is_that_of_the_definition(size: int) -> None:
    assert root(HASHES[:size]) == mth(HASHES[:size])
    assert root_at(nodes_over(HASHES), size) == mth(HASHES[:size])


def test_every_inclusion_up_to_33_verifies_and_no_other_index_does() -> None:
    nodes = nodes_over(HASHES)
    for size in range(1, 34):
        top = mth(HASHES[:size])
        for index in range(size):
            proof = inclusion_proof(nodes, index, size)
            found = [
                at for at in range(size) if verify_inclusion(HASHES[index], at, size, proof, top)
            ]
            assert found == [index]


def test_every_consistency_up_to_33_verifies() -> None:
    nodes = nodes_over(HASHES)
    for new in range(1, 34):
        for old in range(1, new + 1):
            proof = consistency_proof(nodes, old, new)
            assert verify_consistency(old, new, mth(HASHES[:old]), mth(HASHES[:new]), proof)


def test_root_and_inclusion_proofs_are_those_of_pymerkle() -> None:
    """Another library over the same leaves. (Its consistency paths part at other places.)"""
    tree = pymerkle.InmemoryTree(algorithm="sha256")
    for number in range(70):
        tree.append_entry(str(number).encode())
    nodes = nodes_over(HASHES)
    assert tree.get_root() == root(HASHES)
    for index in (0, 1, 31, 63, 64, 69):
        theirs = tree.prove_inclusion(index + 1, 70).path
        assert theirs == [HASHES[index], *inclusion_proof(nodes, index, 70)]


@st.composite
def spots(draw: st.DrawFn, pieces: int) -> tuple[int, int]:
    """One bit of one of some hashes."""
    return draw(st.integers(0, pieces - 1)), draw(st.integers(0, 255))


def flipped(data: bytes, bit: int) -> bytes:
    changed = bytearray(data)
    changed[bit // 8] ^= 1 << bit % 8
    return bytes(changed)


@given(st.data(), st.integers(1, 70))
def test_any_bit_changed_fails_inclusion(data: st.DataObject, size: int) -> None:
    index = data.draw(st.integers(0, size - 1))
    proof = inclusion_proof(nodes_over(HASHES), index, size)
    parts = [HASHES[index], root(HASHES[:size]), *proof]
    at, bit = data.draw(spots(len(parts)))
    assert verify_inclusion(parts[0], index, size, parts[2:], parts[1])
    parts[at] = flipped(parts[at], bit)
    assert not verify_inclusion(parts[0], index, size, parts[2:], parts[1])


@given(st.data(), st.integers(1, 70))
def test_any_bit_changed_fails_consistency(data: st.DataObject, new: int) -> None:
    old = data.draw(st.integers(1, new))
    proof = consistency_proof(nodes_over(HASHES), old, new)
    parts = [root(HASHES[:old]), root(HASHES[:new]), *proof]
    at, bit = data.draw(spots(len(parts)))
    assert verify_consistency(old, new, parts[0], parts[1], parts[2:])
    parts[at] = flipped(parts[at], bit)
    assert not verify_consistency(old, new, parts[0], parts[1], parts[2:])


@given(st.integers(2, 69), st.data())
def test_a_log_with_an_entry_left_out_or_two_swapped_is_not_consistent(
    new: int, data: st.DataObject
) -> None:
    old = data.draw(st.integers(1, new - 1))
    at = data.draw(st.integers(0, old - 1))
    then = root(HASHES[:old])
    without = HASHES[:at] + HASHES[at + 1 : new + 1]
    swapped = [*HASHES[:new]]
    swapped[at], swapped[new - 1] = swapped[new - 1], swapped[at]
    for other in (without, swapped):
        proof = consistency_proof(nodes_over(other), old, new)
        assert not verify_consistency(old, new, then, root(other[:new]), proof)


@given(st.integers(2, 64))
def test_two_short_hashes_cannot_pass_for_a_node(split: int) -> None:
    """A node cut at another byte gives the same hash, so lengths have to be looked at."""
    both = HASHES[0] + HASHES[1]
    pair = (both[:split], both[split:])
    top = node_hash(*pair)
    assert verify_inclusion(pair[0], 0, 2, [pair[1]], top) is (split == 32)


def test_nodes_completed_by_each_leaf_are_all_complete_nodes() -> None:
    whole = nodes_over(HASHES)
    stored = {(0, at): hash_ for at, hash_ in enumerate(HASHES)}

    def read(level: int, at: int) -> bytes:
        return stored[level, at]

    for index, hash_ in enumerate(HASHES):
        stored |= {(level, at): node for level, at, node in completed(read, index, hash_)}
    assert len(stored) == sum(len(HASHES) >> level for level in range(8))
    assert all(whole(level, at) == node for (level, at), node in stored.items())


@pytest.mark.parametrize(("index", "size"), [(0, 0), (1, 1), (-1, 3), (3, 3)])
def test_a_leaf_that_is_not_there_has_no_proof(index: int, size: int) -> None:
    with pytest.raises(ValueError, match="no leaf"):
        inclusion_proof(nodes_over(HASHES), index, size)


@pytest.mark.parametrize(("old", "new"), [(0, 0), (0, 3), (-1, 3), (4, 3)])
def test_a_tree_that_is_not_earlier_has_no_proof(old: int, new: int) -> None:
    with pytest.raises(ValueError, match="does not continue"):
        consistency_proof(nodes_over(HASHES), old, new)


def test_hashes_have_the_length_of_sha_256() -> None:
    assert hashlib.sha256().digest_size == merkle.HASH_BYTES
