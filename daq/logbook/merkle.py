"""One hash that vouches for a list of any length, and short proofs against it.

The Merkle tree of RFC 6962, 2.1 with SHA-256: a leaf is hashed behind the byte 0, two nodes behind
the byte 1. A root and a size vouch for every entry and for how many there are. An *inclusion proof*
shows that an entry is one of them, a *consistency proof* that a later root is of the same entries
and more behind them; both are some twenty hashes for a million entries, and need none of the
others. Proofs are checked as RFC 9162, 2.1.3.2 and 2.1.4.2 say.

Hashes are 32 bytes; entries are numbered from 0 here. Entries are streamed: what is kept is one
hash a level of the tree.
"""

import hashlib
from collections.abc import Iterable, Sequence

Span = tuple[int, int]
"""Entries from the first number up to, but without, the second."""


def leaf_hash(entry: bytes) -> bytes:
    """The hash of one entry."""
    return hashlib.sha256(b"\0" + entry).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """The hash of two neighbours."""
    return hashlib.sha256(b"\1" + left + right).digest()


class Tree:
    """The root of entries that come one by one.

    Attributes:
        size: how many there were.
    """

    def __init__(self) -> None:
        self.size = 0
        self._full: list[bytes] = []

    def append(self, entry: bytes) -> None:
        """Take one entry more."""
        digest = leaf_hash(entry)
        self.size += 1
        full = self.size
        while full % 2 == 0:  # a pair is complete, on this level and maybe on those above
            digest = node_hash(self._full.pop(), digest)
            full //= 2
        self._full.append(digest)

    def root(self) -> bytes:
        """The root of what came so far; of nothing it is the hash of nothing."""
        if not self._full:
            return hashlib.sha256(b"").digest()
        *others, digest = self._full
        for left in reversed(others):
            digest = node_hash(left, digest)
        return digest


def inclusion_spans(index: int, size: int) -> list[Span]:
    """Whose roots, in this order, prove that entry ``index`` is one of ``size``.

    Raises:
        ValueError: there is no such entry.
    """
    if not 0 <= index < size:
        raise ValueError(f"there is no entry {index} among {size}")
    return _path(index, 0, size)


def consistency_spans(before: int, size: int) -> list[Span]:
    """Whose roots, in this order, prove that the first ``before`` of ``size`` are the same still.

    Raises:
        ValueError: ``before`` is 0, which needs no proof, or more than ``size``.
    """
    if not 0 < before <= size:
        raise ValueError(f"{before} of {size} entries cannot be proved to be the same")
    spans: list[Span] = []
    low, high, is_whole = 0, size, True
    while low + before < high:
        middle = low + _half(high - low)
        if before <= middle - low:
            spans.append((middle, high))
            high = middle
        else:
            spans.append((low, middle))
            before -= middle - low
            low, is_whole = middle, False
    if not is_whole:
        spans.append((low, high))
    return spans[::-1]


def roots_of(spans: Sequence[Span], entries: Iterable[bytes]) -> list[bytes]:
    """The root of each of ``spans``, which share no entry, in one pass over all entries.

    Raises:
        ValueError: there are not so many entries.
    """
    trees = [Tree() for _ in spans]
    due = iter(sorted(range(len(spans)), key=lambda place: spans[place]))
    place = next(due, None)
    for number, entry in enumerate(entries):
        if place is None:
            break
        first, end = spans[place]
        if number >= first:
            trees[place].append(entry)
        if number + 1 == end:
            place = next(due, None)
    if place is not None:
        raise ValueError(f"the entries end before {spans[place][1]}")
    return [tree.root() for tree in trees]


def includes(entry: bytes, index: int, size: int, root: bytes, proof: Sequence[bytes]) -> bool:
    """Whether ``proof`` shows that ``entry`` is number ``index`` of ``size`` under ``root``."""
    if not 0 <= index < size:
        return False
    here, last, digest = index, size - 1, leaf_hash(entry)
    for other in proof:
        if last == 0:
            return False
        if here % 2 or here == last:
            digest = node_hash(other, digest)
            while here % 2 == 0 and here:
                here, last = here // 2, last // 2
        else:
            digest = node_hash(digest, other)
        here, last = here // 2, last // 2
    return last == 0 and digest == root


def continues(
    before: int, root_before: bytes, size: int, root: bytes, proof: Sequence[bytes]
) -> bool:
    """Whether ``proof`` shows that ``size`` entries begin with the ``before`` of earlier."""
    if before == size:
        return not proof and root_before == root
    if not 0 < before < size:
        return before == 0 < size and not proof
    hashes = list(proof) if before & (before - 1) else [root_before, *proof]
    if not hashes:
        return False
    here, last = before - 1, size - 1
    while here % 2:
        here, last = here // 2, last // 2
    old = new = hashes[0]
    for other in hashes[1:]:
        if last == 0:
            return False
        if here % 2 or here == last:
            old, new = node_hash(other, old), node_hash(other, new)
            while here % 2 == 0 and here:
                here, last = here // 2, last // 2
        else:
            new = node_hash(new, other)
        here, last = here // 2, last // 2
    return last == 0 and old == root_before and new == root


def _half(count: int) -> int:
    """The largest power of two below ``count``, which is above 1."""
    return 1 << ((count - 1).bit_length() - 1)


def _path(index: int, low: int, high: int) -> list[Span]:
    spans: list[Span] = []
    while high - low > 1:
        middle = low + _half(high - low)
        if index < middle:
            spans.append((middle, high))
            high = middle
        else:
            spans.append((low, middle))
            low = middle
    return spans[::-1]
