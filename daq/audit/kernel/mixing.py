"""A 64-bit mixing of whole numbers, so that two sums of it are equal for equal rows alone.

A linear checksum does not do: values that go up here and down there give the same sum. Each row is
mixed with its place by multiplications and shifts that no sum undoes, and a pass is held by a sum
and by a second, different reduction: 128 bits.
"""

import numpy as np
import numpy.typing as npt

from daq.audit.source import Ints

Mixed = npt.NDArray[np.uint64]

_ODD = tuple(
    np.uint64(each)
    for each in (0x9E3779B97F4A7C15, 0xBF58476D1CE4E5B9, 0x94D049BB133111EB, 0xD6E8FEB86659FD93)
)


def mixed(place: Ints, *columns: Ints) -> Mixed:
    """One number a row, of its place and its values; arithmetic is modulo 2^64."""
    total = place.astype(np.uint64)
    total *= _ODD[0]
    for odd, values in zip(_ODD[1:], columns, strict=False):
        total += values.view(np.uint64) * odd
        total ^= total >> np.uint64(29)
    total *= _ODD[1]
    total ^= total >> np.uint64(32)
    total *= _ODD[2]
    total ^= total >> np.uint64(29)
    return total


def summed(rows: Mixed, starts: Ints) -> Ints:
    """The sum of each stretch of rows, modulo 2^64."""
    return np.add.reduceat(rows, starts).view(np.int64)


def folded(rows: Mixed, starts: Ints) -> Ints:
    """A second reduction that does not follow from the sum."""
    return np.bitwise_xor.reduceat(rows * _ODD[3], starts).view(np.int64)
