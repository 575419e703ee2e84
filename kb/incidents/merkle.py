"""The tree over a log's leaves: its root, and proofs about it (RFC 9162, section 2.1).

The hashes are those of RFC 6962, section 2.1: a leaf's behind a zero byte (`leaf.leaf_hash`), a
node's behind a one. A *complete node* (level, position) stands over the 2**level leaves from
position * 2**level on; once its leaves are there it never changes. So whoever keeps complete
nodes gets a root or a proof from a handful of them, however long the log. Positions, indexes and
sizes count leaves; the first leaf has the index 0. All hashes are 32 bytes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence

# Reads the complete node of a level and position; level 0 are the hashes of the leaves.
Nodes = Callable[[int, int], bytes]

HASH_BYTES = 32
EMPTY_ROOT = hashlib.sha256(b"").digest()
_NODE_PREFIX = b"\x01"


def node_hash(left: bytes, right: bytes) -> bytes:
    """The hash of a node over two others (RFC 6962, section 2.1)."""
    return hashlib.sha256(_NODE_PREFIX + left + right).digest()


def completed(nodes: Nodes, index: int, leaf_hash: bytes) -> Iterator[tuple[int, int, bytes]]:
    """The complete nodes above level 0 that the leaf of this index completes.

    Each as (level, position, hash), from below; `nodes` has to know those over earlier leaves.
    """
    level, position, node = 0, index, leaf_hash
    while position % 2:
        node = node_hash(nodes(level, position - 1), node)
        level, position = level + 1, position // 2
        yield level, position, node


def nodes_over(hashes: Sequence[bytes]) -> Nodes:
    """All complete nodes over the hashes of a log's leaves, kept in memory."""
    levels = [list(hashes)]
    while len(levels[-1]) > 1:
        below = levels[-1]
        levels.append([node_hash(below[at], below[at + 1]) for at in range(0, len(below) - 1, 2)])
    return lambda level, position: levels[level][position]


def root(hashes: Sequence[bytes]) -> bytes:
    """The root over the hashes of leaves."""
    return root_at(nodes_over(hashes), len(hashes))


def root_at(nodes: Nodes, size: int) -> bytes:
    """The root of the first `size` leaves (MTH of RFC 9162, section 2.1.1)."""
    return _span(nodes, 0, size) if size else EMPTY_ROOT


def inclusion_proof(nodes: Nodes, index: int, size: int) -> list[bytes]:
    """The path from a leaf to the root of `size` leaves (PATH of RFC 9162, section 2.1.3.1).

    Raises ValueError where the tree has no such leaf.
    """
    if not 0 <= index < size:
        raise ValueError(f"a tree of {size} leaves has no leaf of index {index}")
    path = []
    start, end = 0, size
    while end - start > 1:
        middle = start + _left_width(end - start)
        if index < middle:
            path.append(_span(nodes, middle, end))
            end = middle
        else:
            path.append(_span(nodes, start, middle))
            start = middle
    return path[::-1]


def consistency_proof(nodes: Nodes, old: int, new: int) -> list[bytes]:
    """What shows that the first `old` of `new` leaves are as they were.

    PROOF of RFC 9162, section 2.1.4.1; empty where the sizes are the same. Raises ValueError
    where the old tree is empty (nothing can be shown of it) or larger than the new one.
    """
    if not 0 < old <= new:
        raise ValueError(f"a tree of {new} leaves does not continue one of {old}")
    path = []
    start, end = 0, new
    while end != old:
        middle = start + _left_width(end - start)
        if old <= middle:
            path.append(_span(nodes, middle, end))
            end = middle
        else:
            path.append(_span(nodes, start, middle))
            start = middle
    if start:
        path.append(_span(nodes, start, end))
    return path[::-1]


def verify_inclusion(
    leaf_hash: bytes, index: int, size: int, proof: Sequence[bytes], root: bytes
) -> bool:
    """Whether the proof leads from the leaf to the root (RFC 9162, section 2.1.3.2)."""
    if not 0 <= index < size or not _are_hashes(leaf_hash, *proof):
        return False
    at, last, node = index, size - 1, leaf_hash
    for beside in proof:
        if last == 0:
            return False
        if at % 2 or at == last:
            node = node_hash(beside, node)
            while not at % 2 and at:
                at, last = at // 2, last // 2
        else:
            node = node_hash(node, beside)
        at, last = at // 2, last // 2
    return last == 0 and node == root


def verify_consistency(
    old: int, new: int, old_root: bytes, new_root: bytes, proof: Sequence[bytes]
) -> bool:
    """Whether the proof leads to both roots (RFC 9162, section 2.1.4.2).

    An empty old tree is refused: any tree continues it, so that nothing is shown.
    """
    if not 0 < old <= new or not _are_hashes(*proof):
        return False
    if old == new:
        return not proof and old_root == new_root
    # Where the old tree is one complete node, its root is the proof's first hash left out.
    path = [old_root, *proof] if old & (old - 1) == 0 else list(proof)
    if not path:
        return False
    at, last = old - 1, new - 1
    while at % 2:
        at, last = at // 2, last // 2
    node_then = node_now = path[0]
    for beside in path[1:]:
        if last == 0:
            return False
        if at % 2 or at == last:
            node_then = node_hash(beside, node_then)
            node_now = node_hash(beside, node_now)
            while not at % 2 and at:
                at, last = at // 2, last // 2
        else:
            node_now = node_hash(node_now, beside)
        at, last = at // 2, last // 2
    return last == 0 and node_then == old_root and node_now == new_root


def _span(nodes: Nodes, start: int, end: int) -> bytes:
    """The root over the leaves from `start` to before `end`, put together of complete nodes."""
    parts = []
    while start < end:
        level = (end - start).bit_length() - 1
        parts.append(nodes(level, start >> level))
        start += 1 << level
    node = parts.pop()
    while parts:
        node = node_hash(parts.pop(), node)
    return node


def _left_width(width: int) -> int:
    """The largest power of two below the width: where RFC 9162 parts a tree in two."""
    return 1 << (width - 1).bit_length() - 1


def _are_hashes(*found: bytes) -> bool:
    """Whether all are as long as a hash: of other lengths, two pairs can look like one node."""
    return all(len(one) == HASH_BYTES for one in found)
