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


_AT_ONCE = 1 << 14
"""Rows that are mixed at a time: all that is worked out of them stays near the processor."""


def mixed(place: Ints, *columns: Ints) -> Mixed:
    """One number a row, of its place and its values; arithmetic is modulo 2^64."""
    return mixed_each(place, *columns)[-1]


def mixed_each(place: Ints, *columns: Ints) -> list[Mixed]:
    """As `mixed`, of the first column alone, of the first two, and so on to all of them."""
    found = [np.empty(place.size, dtype=np.uint64) for _ in columns]
    for begin in range(0, place.size, _AT_ONCE):
        part = slice(begin, begin + _AT_ONCE)
        total = place[part].astype(np.uint64)
        total *= _ODD[0]
        for odd, values, into in zip(_ODD[1:], columns, found, strict=False):
            total += values[part].astype(np.int64, copy=False).view(np.uint64) * odd
            total ^= total >> np.uint64(29)
            _stirred(total, into[part])
    return found


def _stirred(total: Mixed, into: Mixed) -> None:
    np.multiply(total, _ODD[1], out=into)
    into ^= into >> np.uint64(32)
    into *= _ODD[2]
    into ^= into >> np.uint64(29)


def summed(rows: Mixed, starts: Ints) -> Ints:
    """The sum of each stretch of rows, modulo 2^64."""
    return np.add.reduceat(rows, starts).view(np.int64)


def folded(rows: Mixed, starts: Ints) -> Ints:
    """A second reduction that does not follow from the sum."""
    return np.bitwise_xor.reduceat(rows * _ODD[3], starts).view(np.int64)
