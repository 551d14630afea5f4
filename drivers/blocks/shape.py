"""What all frames of one length look like, put together from what a profile says."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from drivers.blocks.rows import Counts, Flags, Rows, Words, windows_over
from drivers.profile import GaugeProfile
from drivers.reading import Status, Unit

Codes = NDArray[np.uint16]

AT_ONCE = 6144
"""Rows looked at in one go: what is made on the way then stays in the processor's cache."""

MOST_COUNT = 1 << 62
"""Counts of last places stay below it."""

ANY_BYTE = frozenset(range(256))


class ReadsNumber(Protocol):
    """Where a frame's number lies."""

    checked: set[int]
    """Places that reading it checks wholly."""

    def read(self, rows: Rows, bad: Words) -> Counts:
        """The numbers, shape (count,); sets bits of ``bad`` where there is none."""


Condition = Callable[[Rows], Flags]
"""Says of each row whether it fits."""


@dataclass(slots=True)
class Sketch:
    """A shape in the making.

    ``places`` are the bytes that may stand at each place of the frame. ``worth`` is what one of the
    number is in the display's last places. ``no_number`` is a number that stands for none.
    ``known`` are places that ``number`` or a condition looks at better than ``places`` tells.
    """

    places: list[frozenset[int]]
    number: ReadsNumber
    unit: Unit
    decimals: int
    worth: int = 1
    no_number: int | None = None
    longest_mm: Decimal | None = None
    """Beyond it, to either side, no number is believed."""
    negative: tuple[int, int, int] | None = None
    """A place, and the bits there that say minus: their mask and their value."""
    minus_zero: tuple[int, int, int] | None = None
    """The same for a zero with a minus, where the number's own sign is not ``negative``'s."""
    status: Callable[[Rows], tuple[Codes, Flags | None]] | None = None
    meaning: Callable[[int], frozenset[Status]] = lambda _: frozenset()
    """What a code of ``status`` says."""
    sequence: Callable[[bytes], int] | None = None
    label: Callable[[bytes], str] | None = None
    """What a frame says of its sequence number and its gauge."""
    conditions: list[Condition] = field(default_factory=list)
    known: set[int] = field(default_factory=set)


class Shape:
    """Frames of one length and unit, and how to read them all at once.

    Attributes:
        length: bytes in a frame.
        unit: of the display.
        decimals: places after the point.
        last_place: what one count is worth, in the display's unit.
        meaning: what a code of the status says.
        sequence, label: what a frame says of them, None if it does not.
    """

    def __init__(self, sketch: Sketch, profile: GaugeProfile) -> None:
        self.length = len(sketch.places)
        self.unit, self.decimals = sketch.unit, sketch.decimals
        self.last_place = Decimal(1).scaleb(-sketch.decimals)
        self.meaning, self.sequence, self.label = sketch.meaning, sketch.sequence, sketch.label
        self._sketch = sketch
        places = dict(enumerate(sketch.places))
        done = sketch.known | sketch.number.checked
        self._sign = None
        if sketch.negative is not None:
            place, mask, minus = sketch.negative
            self._sign = place, _turns(sketch.places[place], mask, minus)
            done |= {place}
        self._windows = windows_over(places, done)
        self._tables = [
            (place, _table(allowed))
            for place, allowed in places.items()
            if place not in done and allowed != ANY_BYTE
        ]
        self._step = _step_in_last_places(profile, sketch)
        self._least, self._most = _limits(profile, sketch)

    def allows(self, place: int) -> frozenset[int]:
        """The bytes that may stand at ``place``."""
        return self._sketch.places[place]

    def read(self, rows: Rows) -> tuple[Flags, Counts, Codes]:
        """Which rows are good, their counts of last places, and the codes of their status.

        Rows that are not good hold anything.
        """
        good, count = np.empty(rows.count, np.bool_), np.empty(rows.count, np.int64)
        status = np.zeros(rows.count, np.uint16)
        turns = -(-rows.count // AT_ONCE)
        for turn in range(turns):
            part = slice(turn * rows.count // turns, (turn + 1) * rows.count // turns)
            self._read(rows.part(part.start, part.stop), good[part], count[part], status[part])
        return good, count, status

    def zero(self, frame: bytes) -> Decimal:
        """The zero that ``frame`` shows, with its sign."""
        place, mask, minus = self._sketch.minus_zero or self._sketch.negative or (0, 0, 1)
        zero = 0 * self.last_place
        return zero.copy_negate() if frame[place] & mask == minus else zero

    def _read(self, rows: Rows, good: Flags, count: Counts, status: Codes) -> None:
        sketch, bad = self._sketch, np.zeros(rows.count, np.uint64)
        number = sketch.number.read(rows, bad)
        for window in self._windows:
            window.read(rows, bad)
        np.equal(bad, 0, out=good)
        for place, table in self._tables:
            good &= table.take(rows.byte(place))
        for condition in sketch.conditions:
            good &= condition(rows)
        if sketch.no_number is not None:
            good &= number != sketch.no_number
        if self._sign is not None:
            place, turns = self._sign
            turn = turns.take(rows.byte(place))
            good &= turn <= 0
            # Two's complement: all bits turned over and one added, where a minus stands.
            number ^= turn
            number -= turn
        if sketch.worth != 1:
            number *= np.int64(sketch.worth)
        if self._step != 1:
            good &= number // self._step * self._step == number
        if self._least is not None and self._most is not None:
            good &= (number >= self._least) & (number <= self._most)
        count[:] = number
        if sketch.status is not None:
            status[:], fits = sketch.status(rows)
            if fits is not None:
                good &= fits


def can_be_both(one: Shape, other: Shape) -> bool:
    """Whether some frame could have either shape."""
    return one.length == other.length and all(
        one.allows(place) & other.allows(place) for place in range(one.length)
    )


def _table(allowed: frozenset[int]) -> Flags:
    table = np.zeros(256, np.bool_)
    table[list(allowed)] = True
    return table


def _turns(allowed: frozenset[int], mask: int, minus: int) -> Counts:
    """By sign byte: all bits set for a minus, none for a plus, 1 for what may not stand there."""
    table = np.ones(256, np.int64)
    table[list(allowed)] = [-1 if byte & mask == minus else 0 for byte in allowed]
    return table


def last_places(number: Decimal, decimals: int) -> Fraction:
    """``number`` counted in steps of the last of so many decimals."""
    return Fraction(number.scaleb(decimals))


def _step_in_last_places(profile: GaugeProfile, sketch: Sketch) -> int:
    step = last_places(profile.resolution[sketch.unit], sketch.decimals)
    if step.denominator != 1:
        raise ValueError(f"a step of {step} last places")  # no shape is made for such a unit
    return 1 if sketch.worth % step.numerator == 0 else step.numerator


def _limits(profile: GaugeProfile, sketch: Sketch) -> tuple[int | None, int | None]:
    """The least and the largest count within the gauge's travel and what the layout believes."""
    least_mm: list[Decimal] = []
    most_mm: list[Decimal] = []
    if profile.travel is not None:
        least_mm.append(profile.travel.least_mm)
        most_mm.append(profile.travel.most_mm)
    if sketch.longest_mm is not None:
        least_mm.append(-sketch.longest_mm)
        most_mm.append(sketch.longest_mm)
    if not most_mm:
        return None, None
    in_mm = Fraction(sketch.unit.in_mm)
    least = last_places(max(least_mm), sketch.decimals) / in_mm
    most = last_places(min(most_mm), sketch.decimals) / in_mm
    return math.ceil(least), math.floor(most)
