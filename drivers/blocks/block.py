"""Readings in columns: what many frames said, without an object for each."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from itertools import repeat
from operator import mul
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from drivers.blocks.rows import Counts
from drivers.blocks.shape import Codes, Shape
from drivers.profile import GaugeProfile
from drivers.reading import Reading, Status

Told = TypeVar("Told")

EXACT = 1 << 53
"""Whole numbers up to it are exact as floats."""


@dataclass(frozen=True, slots=True)
class Part:
    """The next ``rows`` rows of a block: ``gauge``'s, read at ``t_s`` (seconds, monotonic)."""

    gauge: str
    t_s: float
    rows: int


@dataclass(frozen=True, eq=False)
class Block:
    """Good frames of one or more gauges of one profile, in columns of n rows.

    Attributes:
        profile: how they were sent.
        wire: the frames, with what stands between them.
        starts: where each frame begins in ``wire``, shape (n,).
        ends: where it ends, shape (n,).
        count: the number on the display in steps of its last place, shape (n,).
        shape: which of ``shapes`` the frame has, and with it unit and last place, shape (n,).
        status: what the gauge says of itself, as the layout's own number, shape (n,).
        parts: whose rows they are, in order.
        shapes: the profile's shapes.
    """

    profile: GaugeProfile
    wire: bytes
    starts: Counts
    ends: Counts
    count: Counts
    shape: NDArray[np.uint8]
    status: Codes
    parts: tuple[Part, ...]
    shapes: tuple[Shape, ...]

    def __len__(self) -> int:
        return len(self.count)

    @cached_property
    def t_s(self) -> NDArray[np.float64]:
        """When each frame was read, in seconds, monotonic, shape (n,)."""
        return np.repeat(
            np.array([part.t_s for part in self.parts]), [part.rows for part in self.parts]
        )

    @cached_property
    def value_mm(self) -> NDArray[np.float64]:
        """The lengths in millimetres, each the float nearest to the exact one, shape (n,)."""
        in_mm = [_in_mm(shape) for shape in self.shapes]
        over, under = np.array(in_mm, np.float64).T
        shape: NDArray[np.uint8] | int = 0 if len(self.shapes) == 1 else self.shape
        value: NDArray[np.float64] = self.count * over[shape]
        value /= under[shape]
        # One rounding only, as long as the product is exact; no gauge reaches further.
        exact = EXACT // max(over for over, _ in in_mm)
        if len(self) and (self.count.max() > exact or self.count.min() < -exact):
            for row in np.flatnonzero(np.abs(self.count) > exact).tolist():
                times, parts = in_mm[self.shape[row]]
                value[row] = int(self.count[row]) * times / parts
        return value

    def readings(self) -> Iterator[Reading]:
        """The same as objects, in order, as ``Decoder`` would give them."""
        shapes = [self.shapes[number] for number in self.shape.tolist()]
        wire = self.wire
        raws = [wire[a:b] for a, b in zip(self.starts.tolist(), self.ends.tolist(), strict=True)]
        places = [shape.last_place for shape in shapes]
        values = list(map(mul, map(Decimal, self.count.tolist()), places))
        for row in np.flatnonzero(self.count == 0).tolist():
            values[row] = shapes[row].zero(raws[row])
        return map(
            Reading,
            values,
            [shape.unit for shape in shapes],
            self.t_s.tolist(),
            raws,
            self._statuses(),
            self._told([shape.sequence for shape in self.shapes], raws),
            self._told([shape.label for shape in self.shapes], raws),
        )

    def _statuses(self) -> Iterable[frozenset[Status]]:
        if not self.status.any():
            return repeat(self.shapes[0].meaning(0))
        meaning = {code: self.shapes[0].meaning(code) for code in set(self.status.tolist())}
        return [meaning[code] for code in self.status.tolist()]

    def _told(
        self, ways: list[Callable[[bytes], Told] | None], raws: list[bytes]
    ) -> Iterable[Told | None]:
        """What each frame tells in the way of its shape; None where shapes tell nothing."""
        if not any(ways):
            return repeat(None)
        numbers = zip(self.shape.tolist(), raws, strict=True)
        return [way(raw) if (way := ways[number]) else None for number, raw in numbers]


def _in_mm(shape: Shape) -> tuple[int, int]:
    """One last place in millimetres, as the quotient of whole numbers."""
    return shape.unit.in_mm.scaleb(-shape.decimals).as_integer_ratio()
