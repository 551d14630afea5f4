"""Frames of one length as rows, and what can be asked of all of them at once.

Eight bytes of every row are taken as one unsigned number, lowest byte first, so one operation on it
looks at eight characters. An array operation costs a quarter of a nanosecond a row; a look at one
row alone costs a thousand times that.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Words = NDArray[np.uint64]
Counts = NDArray[np.int64]
Flags = NDArray[np.bool_]

WORD = 8
"""Bytes in a word."""

PAD = bytes(WORD)
"""What stands behind the last row, since a word may reach beyond it."""

DIGITS = frozenset(b"0123456789")


@dataclass(frozen=True, slots=True)
class Rows:
    """``count`` frames in ``wire``, which ends in ``PAD``.

    They stand ``stride`` bytes apart from ``first`` on, or begin at ``starts``.
    """

    wire: Bytes
    count: int
    first: int = 0
    stride: int = 0
    starts: Counts | None = None

    def word(self, at: int) -> Words:
        """Eight bytes of each row from its byte ``at`` on, shape (count,); a copy."""
        if self.starts is not None:
            size = max(0, len(self.wire) - WORD + 1)
            everywhere: Words = np.ndarray((size,), "<u8", self.wire.data, 0, (1,))
            return everywhere[self.starts + at]
        view: Words = np.ndarray(
            (self.count,), "<u8", self.wire.data, self.first + at, (self.stride,)
        )
        return view.copy()

    def byte(self, at: int) -> Bytes:
        """Byte ``at`` of each row, shape (count,)."""
        if self.starts is not None:
            return self.wire[self.starts + at]
        view: Bytes = np.ndarray(
            (self.count,), "u1", self.wire.data, self.first + at, (self.stride,)
        )
        return view

    def pair(self, at: int) -> NDArray[np.uint16]:
        """Bytes ``at`` and ``at + 1`` of each row as one number of the machine, shape (count,)."""
        if self.starts is not None:
            both = np.stack([self.byte(at), self.byte(at + 1)], axis=1)
            return both.view(np.uint16)[:, 0]
        view: NDArray[np.uint16] = np.ndarray(
            (self.count,), np.uint16, self.wire.data, self.first + at, (self.stride,)
        )
        return view

    def part(self, begin: int, end: int) -> "Rows":
        """The rows from ``begin`` up to and without ``end``."""
        if self.starts is not None:
            return Rows(self.wire, end - begin, starts=self.starts[begin:end])
        return Rows(self.wire, end - begin, self.first + begin * self.stride, self.stride)

    def pick(self, which: Counts) -> "Rows":
        """The rows of these numbers."""
        starts = self.first + which * self.stride if self.starts is None else self.starts[which]
        return Rows(self.wire, len(which), starts=starts)


def number(value: int) -> Words:
    """``value`` as numpy wants it; making it anew for each operation costs as much as that."""
    return np.array(value, np.uint64)


class Window:
    """What is known of eight neighbouring bytes: constants and decimal digits.

    A constant must leave nothing when it is XORed away, a digit at most nine. Adding 127 or 118
    carries into a byte's highest bit exactly if there is more; a byte whose highest bit is set
    already may carry into its neighbour, but such a row is bad anyhow.

    Args:
        at: the first of the bytes.
        places: what may stand at those of them that are looked at: one byte, or ``DIGITS``.
    """

    def __init__(self, at: int, places: dict[int, frozenset[int]]) -> None:
        self.at = at
        flip = mask = add = high = 0
        for place, allowed in places.items():
            shift = 8 * (place - at)
            flip |= (ord("0") if allowed == DIGITS else next(iter(allowed))) << shift
            mask |= 0xFF << shift
            add |= (0x7F - (9 if allowed == DIGITS else 0)) << shift
            high |= 0x80 << shift
        self._flip, self._mask = number(flip), number(mask)
        self._add, self._high = number(add), number(high)

    def read(self, rows: Rows, bad: Words) -> Words:
        """The digits' values in their bytes, zeros elsewhere; sets bits of ``bad`` where not."""
        found = rows.word(self.at)
        found ^= self._flip
        found &= self._mask
        over = found + self._add
        over |= found
        over &= self._high
        bad |= over
        return found


PAIRS, TWO_PAIRS = number(10 * 256 + 1), number(100 * 65536 + 1)
TWO_FOURS = number(10_000 * (1 << 32) + 1)
ONE, TWO, FOUR = number(8), number(16), number(32)
"""Shifts by so many bytes."""
EACH_TWO, EACH_FOUR = number(0x00FF00FF00FF00FF), number(0x0000FFFF0000FFFF)


class _Run:
    """Decimal digits that one window holds: where they lie, and what the last is worth."""

    def __init__(self, places: tuple[int, ...], worth: int) -> None:
        self.at = max(0, places[-1] + 1 - WORD)
        inside = [place - self.at for place in places]
        self._shift = number(8 * (WORD - 1 - inside[-1])) if inside[-1] < WORD - 1 else None
        # One gap, the point: the digits before it move up by as many bytes.
        self._before, self._factor = number(0), None
        for index, (place, following) in enumerate(pairwise(inside), 1):
            if following > place + 1:
                self._before = number(sum(0xFF << 8 * moved for moved in inside[:index]))
                self._factor = number((1 << 8 * (following - place - 1)) - 1)
        self._few = len(places) <= 4
        self._worth = np.array(worth, np.int64) if worth != 1 else None

    def value(self, found: Words) -> Counts:
        """The number that the digits in ``found`` write; uses it up."""
        if self._factor is not None:
            moved = found & self._before
            moved *= self._factor
            found += moved
        if self._shift is not None:
            found <<= self._shift
        # Neighbours are joined in pairs, then fours, then eights, highest digit in the lowest byte.
        found *= PAIRS
        found >>= ONE
        found &= EACH_TWO
        found *= TWO_PAIRS
        if self._few:
            found >>= TWO
            found >>= FOUR
        else:
            found >>= TWO
            found &= EACH_FOUR
            found *= TWO_FOURS
            found >>= FOUR
        count = found.view(np.int64)
        if self._worth is not None:
            count *= self._worth
        return count


class DecimalDigits:
    """A number in decimal digits at ``places``, highest first, with at most one gap, the point.

    Args:
        places: the frame's bytes that are digits, 1 to 18 of them.
        constants: the frame's constant bytes by place; those in reach are checked along the way.

    Attributes:
        checked: the places that reading the number checks.
    """

    def __init__(self, places: tuple[int, ...], constants: dict[int, frozenset[int]]) -> None:
        self._runs: list[tuple[_Run, Window]] = []
        self.checked: set[int] = set()
        worth, rest = 1, places
        while rest:
            own = tuple(place for place in rest if place > rest[-1] - WORD)
            run = _Run(own, worth)
            reach = range(run.at, run.at + WORD)
            looked_at = dict.fromkeys(own, DIGITS)
            looked_at |= {place: constants[place] for place in reach if place in constants}
            self.checked |= set(looked_at)
            self._runs.append((run, Window(run.at, looked_at)))
            worth *= 10 ** len(own)
            rest = rest[: -len(own)]

    def read(self, rows: Rows, bad: Words) -> Counts:
        """The numbers, shape (count,); sets bits of ``bad`` where there is none."""
        run, window = self._runs[0]
        total = run.value(window.read(rows, bad))
        for run, window in self._runs[1:]:
            total += run.value(window.read(rows, bad))
        return total


def windows_over(places: dict[int, frozenset[int]], done: set[int]) -> list[Window]:
    """Windows for the constants and digits among ``places`` that are not ``done`` yet.

    A place that would have a window of its own is left to others: a window costs three bytes.
    """
    due = [p for p, allowed in sorted(places.items()) if _suits(allowed) and p not in done]
    windows = []
    while due:
        inside = {place: places[place] for place in due if place < due[0] + WORD}
        if len(inside) > 1:
            windows.append(Window(due[0], inside))
            done |= set(inside)
        due = due[len(inside) :]
    return windows


def _suits(allowed: frozenset[int]) -> bool:
    return len(allowed) == 1 or allowed == DIGITS
