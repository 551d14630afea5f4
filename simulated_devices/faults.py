"""What cables, adapters and wrong settings do to bytes on their way. Pure and seeded."""

import random
from dataclasses import dataclass, field


@dataclass(slots=True)
class WireFaults:
    """Damages a stream of bytes, each byte with the given probabilities.

    Args:
        drop: a byte is lost.
        flip: one bit of a byte is turned over.
        double: a byte comes twice.
        garbage: one to eight bytes of noise come before a byte.
        cut: the next ``cut_bytes`` bytes are lost: a loose contact.
        stutter: the rest of a piece is held back until the next one.
        cut_bytes: how long a cut is.
        seed: of the accidents.
    """

    drop: float = 0.0
    flip: float = 0.0
    double: float = 0.0
    garbage: float = 0.0
    cut: float = 0.0
    stutter: float = 0.0
    cut_bytes: int = 20
    seed: int = 0
    _held: bytes = b""
    _cut_left: int = 0
    _random: random.Random = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._random = random.Random(self.seed)

    def through(self, data: bytes) -> bytes:
        """What arrives of ``data``, with what an earlier stutter held back before it."""
        out = bytearray(self._held)
        self._held = b""
        chance = self._random.random
        for place, byte in enumerate(data):
            if self._cut_left:
                self._cut_left -= 1
                continue
            if chance() < self.stutter:
                self._held = self._damaged(data[place:])
                break
            if chance() < self.cut:
                self._cut_left = self.cut_bytes - 1
                continue
            out += self._damaged(bytes([byte]))
        return bytes(out)

    def _damaged(self, data: bytes) -> bytes:
        out = bytearray()
        chance = self._random.random
        for byte in data:
            if chance() < self.drop:
                continue
            if chance() < self.garbage:
                out += self._random.randbytes(self._random.randint(1, 8))
            sent = byte ^ 1 << self._random.randrange(8) if chance() < self.flip else byte
            out += bytes([sent, sent]) if chance() < self.double else bytes([sent])
        return bytes(out)


def as_read_at(data: bytes, sent_baud: int, read_baud: int) -> bytes:
    """What a receiver set to ``read_baud`` makes of bytes sent at ``sent_baud``, 8N1, back to back.

    The line is idle high; a frame is a start bit 0, eight data bits with the lowest first, a stop
    bit 1. The receiver takes a falling edge for a start, looks again in the middle of that bit,
    then samples in the middle of each of its own bit times. A byte without a stop bit is taken all
    the same, as most adapters do without saying so.

    Source: common practice of asynchronous receivers; no single source.
    """
    line = [1]
    for byte in data:
        line += [0, *(byte >> bit & 1 for bit in range(8)), 1]
    line += [1] * 12
    ratio = sent_baud / read_baud  # sent bit times in one of the receiver's
    found = bytearray()
    at = 1.0  # in sent bit times; the line begins idle
    while (start := _falling_edge(line, at)) is not None:
        if _level(line, start + 0.5 * ratio):
            at = start + 0.5 * ratio
            continue
        bits = [_level(line, start + (1.5 + bit) * ratio) for bit in range(8)]
        found.append(sum(level << bit for bit, level in enumerate(bits)))
        at = start + 9.5 * ratio
    return bytes(found)


def _level(line: list[int], at: float) -> int:
    return line[int(at)] if at < len(line) else 1


def _falling_edge(line: list[int], at: float) -> float | None:
    """The first moment at or after ``at`` when the line goes from 1 to 0."""
    for place in range(max(1, int(at)), len(line)):
        if line[place] == 0 and line[place - 1] == 1 and place >= at:
            return float(place)
    return None
