"""Checksums of many frames at once, a column of bytes at a time.

A CRC of bytes that are all zero but one depends on that one alone, and the CRCs of such frames XOR
to the CRC of the whole: so each place has a table, and no step waits for the one before.
"""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from drivers.blocks.rows import Flags, Rows
from drivers.check import Check
from drivers.checksum import Crc

Sums = NDArray[np.unsignedinteger]
Summing = Callable[[Rows], Sums]
"""The checksum of each row, shape (count,)."""


def simple_sum(kind: str, places: Sequence[int]) -> Summing:
    """XOR, sum or LRC over the bytes at ``places``."""

    def summed(rows: Rows) -> Sums:
        total: Sums = np.zeros(rows.count, np.uint8)
        for place in places:
            if kind == "xor":
                total ^= rows.byte(place)
            else:
                total += rows.byte(place)
        if kind == "lrc":
            total = np.negative(total)
        return total

    return summed


def crc_sum(crc: Crc, places: Sequence[int], constants: dict[int, int]) -> Summing:
    """A CRC over the bytes at ``places``; those that ``constants`` tells are summed beforehand."""
    size = len(places)
    fixed = bytes(constants.get(place, 0) for place in places)
    of_zeros = crc(bytes(size))
    tables = []
    for index, place in enumerate(places):
        if place not in constants:
            tables.append((place, _table(crc, size, index, of_zeros)))
    begin = crc(fixed)
    kind = tables[0][1].dtype if tables else np.uint64

    def summed(rows: Rows) -> Sums:
        total = np.full(rows.count, begin, kind)
        for place, table in tables:
            total ^= table.take(rows.byte(place))
        return total

    return summed


def _table(crc: Crc, size: int, index: int, of_zeros: int) -> Sums:
    """What each byte at ``index`` changes in the CRC of ``size`` bytes."""
    changes = [0]
    for bit in range(8):
        single = bytearray(size)
        single[index] = 1 << bit
        change = crc(bytes(single)) ^ of_zeros
        changes += [each ^ change for each in changes]
    return np.array(changes, np.uint16 if crc.width <= 16 else np.uint64)


def summing(check: Check, places: Sequence[int], constants: dict[int, int]) -> Summing:
    """The checksum ``check`` over the bytes at ``places``, in that order."""
    if check.crc is None:
        return simple_sum(check.kind, places)
    return crc_sum(Crc(**dict(check.crc)), places, constants)


class SumFits:
    """Whether the checksum written at ``places`` is the one that the row should have."""

    def __init__(self, check: Check, made: Summing, places: Sequence[int]) -> None:
        self._made = made
        octets = (check.bits + 7) // 8
        order = range(octets) if check.written == "low byte first" else range(octets)[::-1]
        self._octets = [
            (8 * octet, places[index * len(places) // octets]) for index, octet in enumerate(order)
        ]
        digits = {"hex": b"0123456789ABCDEF", "small hex": b"0123456789abcdef"}.get(check.written)
        self._hex = None
        if digits:
            pairs = b"".join(bytes([high, low]) for high in digits for low in digits)
            self._hex = np.frombuffer(pairs, np.uint16)

    def __call__(self, rows: Rows) -> Flags:
        """Which rows fit, shape (count,)."""
        total = self._made(rows)
        good = np.ones(rows.count, np.bool_)
        for shift, place in self._octets:
            octet = (total >> shift if shift else total).astype(np.uint8)
            if self._hex is None:
                good &= rows.byte(place) == octet
            else:
                good &= rows.pair(place) == self._hex.take(octet)
        return good
