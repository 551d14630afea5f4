"""Checksums that gauges put behind their frames: XOR, sum, LRC, and any CRC.

A CRC is named by its six catalogue parameters (width, polynomial, start value, input and output
reflection, final XOR), the way the open CRC catalogues list them. The published check values of
23 algorithms, their results for the ASCII text ``123456789``, are in the tests.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import reduce
from operator import xor as _xor


def xor8(data: bytes) -> int:
    """All bytes XORed together, 0 to 255."""
    return reduce(_xor, data, 0)


def sum8(data: bytes) -> int:
    """The sum of all bytes modulo 256."""
    return sum(data) & 0xFF


def lrc8(data: bytes) -> int:
    """The two's complement of the byte sum: data and LRC together sum to 0 modulo 256.

    Source: Modbus over Serial Line, specification and implementation guide V1.02, 6.2.1
    (clause from memory).
    """
    return -sum(data) & 0xFF


def _reflected(value: int, width: int) -> int:
    return int(f"{value:0{width}b}"[::-1], 2)


@dataclass(frozen=True)
class Crc:
    """A cyclic redundancy check by its catalogue parameters.

    Args:
        width: bits of the result, 8 to 64.
        poly: the polynomial, highest power left out, not reflected.
        init: the register before the first byte.
        refin: whether each byte goes in with its lowest bit first.
        refout: whether the register is reversed at the end.
        xorout: what the result is XORed with at the end.
    """

    width: int
    poly: int
    init: int
    refin: bool
    refout: bool
    xorout: int

    def __post_init__(self) -> None:
        object.__setattr__(self, "_table", tuple(self._shifted(byte) for byte in range(256)))

    def _shifted(self, byte: int) -> int:
        """The register's change for one byte: eight steps of the shift register at once."""
        if self.refin:
            register, poly = byte, _reflected(self.poly, self.width)
            for _ in range(8):
                register = (register >> 1) ^ (poly if register & 1 else 0)
            return register
        top, mask = 1 << (self.width - 1), (1 << self.width) - 1
        register = byte << (self.width - 8)
        for _ in range(8):
            register = ((register << 1) & mask) ^ (self.poly if register & top else 0)
        return register

    def __call__(self, data: bytes) -> int:
        """The CRC of ``data``, 0 to 2**width - 1."""
        table: tuple[int, ...] = self._table  # type: ignore[attr-defined]
        if self.refin:
            register = _reflected(self.init, self.width)
            for byte in data:
                register = (register >> 8) ^ table[(register ^ byte) & 0xFF]
        else:
            register, mask = self.init, (1 << self.width) - 1
            for byte in data:
                at = (register >> (self.width - 8)) ^ byte
                register = ((register << 8) & mask) ^ table[at]
        if self.refin != self.refout:
            register = _reflected(register, self.width)
        return register ^ self.xorout


MODBUS_CRC = Crc(width=16, poly=0x8005, init=0xFFFF, refin=True, refout=True, xorout=0x0000)
"""Sent low byte first. Source: Modbus over Serial Line V1.02, 6.2.2 (clause from memory)."""

SIMPLE: dict[str, Callable[[bytes], int]] = {"xor": xor8, "sum": sum8, "lrc": lrc8}
"""One-byte checks under the names that profiles use."""
