"""The tree of RFC 6962: known roots, known proofs, and no proof of anything else."""

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.logbook.merkle import (
    Tree,
    consistency_spans,
    continues,
    includes,
    inclusion_spans,
    leaf_hash,
    node_hash,
    roots_of,
)

# Leaves, roots and the two single hashes: test data of an open implementation of RFC 6962
# (transparency-dev/merkle, testonly/constants.go and rfc6962/rfc6962_test.go, commit 417fb0c3).
LEAVES = [
    bytes.fromhex(each)
    for each in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]
ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]


def root_of(entries):
    tree = Tree()
    for entry in entries:
        tree.append(entry)
    return tree.root()


def by_definition(entries):
    """The root as RFC 6962, 2.1 defines it."""
    if not entries:
        return hashlib.sha256(b"").digest()
    if len(entries) == 1:
        return hashlib.sha256(b"\0" + entries[0]).digest()
    half = 1
    while 2 * half < len(entries):
        half *= 2
    left, right = by_definition(entries[:half]), by_definition(entries[half:])
    return hashlib.sha256(b"\1" + left + right).digest()


@pytest.mark.parametrize("size", range(9))
def test_roots_are_the_published_ones(size):
    assert root_of(LEAVES[:size]).hex() == ROOTS[size]


def test_a_leaf_and_a_node_are_hashed_apart():
    assert leaf_hash(b"L123456").hex() == (
        "395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56"
    )
    assert node_hash(b"N123", b"N456").hex() == (
        "aa217fe888e47007fa15edab33c2b492a722cb106c64667fc2b044444de66bbb"
    )


def test_the_proofs_of_seven_leaves_are_those_of_the_standard():
    # RFC 6962, 2.1.3: the tree of d0 to d6, whose nodes are named a to l there.
    entries = LEAVES[:7]
    nodes = {span: root_of(entries[slice(*span)]) for span in _all_spans(7)}
    b, c, h = nodes[1, 2], nodes[2, 3], nodes[2, 4]
    d, f, g = nodes[3, 4], nodes[5, 6], nodes[0, 2]
    i, j, k, last = nodes[4, 6], nodes[6, 7], nodes[0, 4], nodes[4, 7]
    proved = {m: roots_of(inclusion_spans(m, 7), entries) for m in (0, 3, 4, 6)}
    assert proved == {0: [b, h, last], 3: [c, g, last], 4: [f, j, k], 6: [i, k]}
    assert roots_of(consistency_spans(3, 7), entries) == [c, d, g, last]
    assert roots_of(consistency_spans(4, 7), entries) == [last]
    assert roots_of(consistency_spans(6, 7), entries) == [i, j, k]


def _all_spans(size):
    return [(a, b) for a in range(size) for b in range(a + 1, size + 1)]


@given(st.lists(st.binary(max_size=3), max_size=70))
def test_the_root_is_what_the_standard_defines(entries):
    assert root_of(entries) == by_definition(entries)


@given(st.integers(1, 70), st.data())
def test_every_entry_is_proved_and_nothing_else_is(size, data):
    entries = [bytes([number]) for number in range(size)]
    index = data.draw(st.integers(0, size - 1))
    proof, root = roots_of(inclusion_spans(index, size), entries), root_of(entries)
    assert includes(entries[index], index, size, root, proof)
    assert not includes(b"another", index, size, root, proof)
    assert not includes(entries[index], index, size, root_of([*entries, b"more"]), proof)
    assert not includes(entries[index], index, size, root, [*proof, root])
    assert not includes(entries[index], size, size, root, proof)
    wrong = data.draw(st.integers(0, size - 1))
    assert includes(entries[index], wrong, size, root, proof) == (wrong == index)
    if proof:
        assert not includes(entries[index], index, size, root, proof[:-1])
        assert not includes(entries[index], index, size, root, [root, *proof[1:]])


@given(st.integers(1, 70), st.data())
def test_a_longer_list_is_proved_to_begin_with_the_shorter(size, data):
    entries = [bytes([number]) for number in range(size)]
    before = data.draw(st.integers(1, size))
    proof = roots_of(consistency_spans(before, size), entries)
    old, new = root_of(entries[:before]), root_of(entries)
    assert continues(before, old, size, new, proof)
    changed = [b"another", *entries[1:]]
    again = roots_of(consistency_spans(before, size), changed)
    assert not continues(before, old, size, root_of(changed), again)
    assert not continues(before, old, size, new, [*proof, new])
    if proof:
        assert not continues(before, old, size, new, proof[:-1])
        assert not continues(before, old, size, new, [old[::-1], *proof[1:]])


def test_what_cannot_be_proved_is_refused():
    with pytest.raises(ValueError, match="no entry 3 among 3"):
        inclusion_spans(3, 3)
    with pytest.raises(ValueError, match="4 of 3"):
        consistency_spans(4, 3)
    with pytest.raises(ValueError, match="end before 3"):
        roots_of([(0, 3)], [b"a", b"b"])
    assert continues(0, b"", 3, root_of([b"a", b"b", b"c"]), [])
    assert not continues(2, root_of([b"a", b"b"]), 3, root_of([b"a", b"b", b"c"]), [])
