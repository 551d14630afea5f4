"""What cables, adapters and wrong settings do to bytes on their way. Pure and seeded."""

import random
from dataclasses import dataclass, field
from typing import Protocol

from drivers.profile import SerialSettings

LONGEST_STUTTER = 4
"""Calls for which a stutter holds bytes back, at most: 20 ms where one is made every 5 ms."""


class Wire(Protocol):
    """Something that bytes pass through on their way."""

    def through(self, data: bytes) -> bytes:
        """What arrives of ``data``, and of what went in before; ``data`` may be empty."""


@dataclass(frozen=True, slots=True)
class InLine:
    """Several wires, one after the other."""

    parts: tuple[Wire, ...]

    def through(self, data: bytes) -> bytes:
        """See ``Wire.through``."""
        for part in self.parts:
            data = part.through(data)
        return data


@dataclass(slots=True)
class WireFaults:
    """Damages a stream of bytes, each byte with the given probabilities.

    What is damaged depends on the seed and on the bytes, not on how they are cut into pieces.

    Args:
        drop: a byte is lost.
        flip: one bit of a byte is turned over.
        double: a byte comes twice.
        garbage: one to eight bytes of noise come before a byte.
        cut: this byte and the next are lost, ``cut_bytes`` in all: a loose contact.
        stutter: this byte and what follows are held back for one to four calls of ``through``.
        cut_bytes: how long a cut is, at least 1.
        data_bits: bits of a byte that the line carries; no other is turned over or made up.
        seed: of the accidents.
    """

    drop: float = 0.0
    flip: float = 0.0
    double: float = 0.0
    garbage: float = 0.0
    cut: float = 0.0
    stutter: float = 0.0
    cut_bytes: int = 20
    data_bits: int = 8
    seed: int = 0
    _held: bytearray = field(default_factory=bytearray, init=False, repr=False)
    _calls_left: int = field(default=0, init=False, repr=False)
    _cut_left: int = field(default=0, init=False, repr=False)
    _damage: random.Random = field(init=False, repr=False)
    _delay: random.Random = field(init=False, repr=False)

    def __post_init__(self) -> None:
        # Two sources: when bytes come must not change which bytes come.
        self._damage = random.Random(f"wire {self.seed}")
        self._delay = random.Random(f"stutter {self.seed}")

    def through(self, data: bytes) -> bytes:
        """What arrives of ``data``, with what an earlier stutter held back before it.

        Call it with nothing, too, now and then: what is held back comes out of itself.
        """
        if self._calls_left:
            self._calls_left -= 1
        out = bytearray()
        if not self._calls_left:
            out, self._held = self._held, bytearray()
        for byte in data:
            arrives = self._damaged(byte)
            if not self._calls_left and self._delay.random() < self.stutter:
                self._calls_left = self._delay.randint(1, LONGEST_STUTTER)
            if self._calls_left:
                self._held += arrives
            else:
                out += arrives
        return bytes(out)

    def _damaged(self, byte: int) -> bytes:
        """What arrives of one byte."""
        chance = self._damage.random
        if self._cut_left:
            self._cut_left -= 1
            return b""
        if chance() < self.cut:
            self._cut_left = self.cut_bytes - 1
            return b""
        if chance() < self.drop:
            return b""
        noise = self._noise() if chance() < self.garbage else b""
        if chance() < self.flip:
            byte ^= 1 << self._damage.randrange(self.data_bits)
        return noise + bytes([byte]) * (2 if chance() < self.double else 1)

    def _noise(self) -> bytes:
        count = self._damage.randint(1, 8)
        return bytes(self._damage.randrange(1 << self.data_bits) for _ in range(count))


@dataclass(frozen=True, slots=True)
class WrongBaud:
    """A port that is set to another speed than its gauge; see ``as_read_at``.

    Each piece is taken for bytes sent back to back, with a pause before and after it.

    Args:
        sent: how the gauge sends.
        read_baud: the speed that the port is set to; all else is set right.
    """

    sent: SerialSettings
    read_baud: int

    def through(self, data: bytes) -> bytes:
        """See ``Wire.through``."""
        return as_read_at(data, self.sent.baud, self.read_baud, self.sent)


def as_read_at(
    data: bytes, sent_baud: int, read_baud: int, settings: SerialSettings | None = None
) -> bytes:
    """What a receiver set to ``read_baud`` makes of bytes sent at ``sent_baud``, back to back.

    The line is idle high; a byte is a start bit 0, its data bits with the lowest first, the parity
    bit if there is one, stop bits 1. The receiver takes a falling edge for a start, looks again in
    the middle of that bit, then samples in the middle of each of its own bit times; a sample that
    falls on an edge sees what comes after it. A byte with a wrong parity or without a stop bit is
    taken all the same, as most adapters do without saying so.

    Args:
        data: the bytes sent.
        sent_baud: bits a second of the sender.
        read_baud: bits a second of the receiver.
        settings: data bits, parity and stop bits of both; without, 8 data bits, none, 1.

    Source: common practice of asynchronous receivers; no single source.
    """
    settings = settings or SerialSettings()
    line = _line(data, settings)
    ratio = sent_baud / read_baud  # sent bit times in one of the receiver's
    stop = 1.5 + settings.data_bits + (settings.parity != "none")
    found = bytearray()
    at = 1.0  # in sent bit times; the line begins idle
    while (start := _falling_edge(line, at)) is not None:
        if _level(line, start + 0.5 * ratio):
            at = start + 0.5 * ratio
            continue
        bits = [_level(line, start + (1.5 + bit) * ratio) for bit in range(settings.data_bits)]
        found.append(sum(level << bit for bit, level in enumerate(bits)))
        at = start + stop * ratio
    return bytes(found)


def _line(data: bytes, settings: SerialSettings) -> list[int]:
    """The level of the line in each bit time, idle before and after."""
    line = [1]
    for byte in data:
        bits = [byte >> bit & 1 for bit in range(settings.data_bits)]
        parity = {"none": [], "even": [sum(bits) % 2], "odd": [1 - sum(bits) % 2]}
        line += [0, *bits, *parity[settings.parity], *[1] * settings.stop_bits]
    return line + [1] * 12


def _level(line: list[int], at: float) -> int:
    return line[int(at)] if at < len(line) else 1


def _falling_edge(line: list[int], at: float) -> float | None:
    """The first moment at or after ``at`` when the line goes from 1 to 0."""
    for place in range(max(1, int(at)), len(line)):
        if line[place] == 0 and line[place - 1] == 1 and place >= at:
            return float(place)
    return None
