"""Where things lie in the picture of a trace: ranges, ticks, thinning. Numbers only, no drawing.

Lengths are in the unit that the picture is in, millimetres or inches.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_UP, Context, Decimal
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from daq.spec import LengthUnit, digits_in
from drivers.reading import Unit

Array = NDArray[np.float64]
Places = NDArray[np.intp]
Number = TypeVar("Number", float, Array)

LEAST_STEPS = 10
"""A picture is at least so many display steps high."""

NEAR_SCATTERS = 12
"""A reading so close to the others, in their usual scatter, is never left aside."""

GAP_FACTOR, LEAST_GAP_S = 6.0, 0.5
"""Readings further apart than so many usual distances, and than half a second, are not joined."""

FINEST = Decimal("1e-6")
"""No uncertainty is written finer than a nanometre, or a millionth of an inch."""


@dataclass(frozen=True, slots=True)
class Frame:
    """A rectangle of the picture, in pixels, and the times and lengths at its edges."""

    left: float
    top: float
    width: float
    height: float
    from_s: float
    until_s: float
    low: float
    high: float

    @property
    def right(self) -> float:
        """The right edge, pixels."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """The lower edge, pixels."""
        return self.top + self.height

    def x(self, t_s: Number) -> Number:
        """Pixels from the picture's left edge, for times in seconds."""
        return self.left + (t_s - self.from_s) * (self.width / (self.until_s - self.from_s))

    def y(self, value: Number) -> Number:
        """Pixels from the picture's upper edge, for lengths."""
        return self.top + (self.high - value) * (self.height / (self.high - self.low))


@dataclass(frozen=True, slots=True)
class Tick:
    """One mark of an axis: where it is, and the digits that stand beside it."""

    at: float
    digits: str


def reach(values: Array, near: float) -> tuple[float, float]:
    """The lowest and the highest reading, those left aside that lie far off with no company.

    One or two wrong frames cannot be the median of five readings in a row; a move can. A reading
    is left aside when it lies further outside the medians than half of their range, than
    ``NEAR_SCATTERS`` times the readings' usual distance from them, and than ``near``.

    Args:
        values: one or more finite readings, in the order of their times.
        near: what is always near enough.
    """
    padded = np.pad(values, 2, mode="reflect") if len(values) > 1 else np.repeat(values, 5)
    medians = np.sort(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)[:, 2]
    low, high = float(medians.min()), float(medians.max())
    scatter = float(np.median(np.abs(values - medians)))
    room = max((high - low) / 2, NEAR_SCATTERS * scatter, near)
    kept = values[(values >= low - room) & (values <= high + room)]
    return float(kept.min()), float(kept.max())


def padded_range(low: float, high: float, step: float, share: float = 0.06) -> tuple[float, float]:
    """The range with some air on both sides, and ``LEAST_STEPS`` display steps high at least."""
    half = max((0.5 + share) * (high - low), LEAST_STEPS / 2 * step)
    middle = (low + high) / 2
    return middle - half, middle + half


def padded_span(from_s: float, until_s: float) -> tuple[float, float]:
    """The times with a little air on both sides; a second in all where they are one."""
    air_s = 0.015 * (until_s - from_s) or 0.5
    return from_s - air_s, until_s + air_s


def distance(low: float, high: float, most: int, base: Decimal | None = None) -> Decimal:
    """The least round distance at which ``most`` ticks or fewer lie between ``low`` and ``high``.

    It is 1, 2 or 5 times a power of ten; with ``base``, a display step, 1, 2, 5, 10, ... steps.
    """
    floor, ceiling = Decimal(low), Decimal(high)
    for apart in _distances((ceiling - floor) / most, base):
        first, last = _ends(floor, ceiling, apart)
        if last - first < most:
            return apart
    raise AssertionError("the distances have no end")


def ticks(low: float, high: float, apart: Decimal) -> list[Tick]:
    """The multiples of ``apart`` from ``low`` to ``high``, with the decimals that they need."""
    first, last = _ends(Decimal(low), Decimal(high), apart)
    places = decimals(apart)
    return [Tick(float(k * apart), f"{k * apart:.{places}f}") for k in range(first, last + 1)]


def decimals(step: Decimal) -> int:
    """The decimals that multiples of ``step`` need.

    A step in one unit may have no end of them in the other: then three digits of it are enough.
    """
    exponent = step.normalize().as_tuple().exponent
    assert isinstance(exponent, int)
    return max(0, min(-exponent, 2 - step.adjusted()))


def _ends(floor: Decimal, ceiling: Decimal, apart: Decimal) -> tuple[int, int]:
    """The first and the last multiple of ``apart`` in the range."""
    first = (floor / apart).to_integral_value(ROUND_CEILING)
    return int(first), int((ceiling / apart).to_integral_value(ROUND_FLOOR))


def _distances(least: Decimal, base: Decimal | None) -> Iterator[Decimal]:
    exponent = least.adjusted() if base is None else 0
    while True:
        for lead in (1, 2, 5):
            yield (base or Decimal(1)) * Decimal(lead).scaleb(exponent)
        exponent += 1


def stretches(t_s: Array) -> Places:
    """For each reading the number of its stretch: a gap in time begins a new one."""
    apart_s = np.abs(np.diff(t_s))
    usual_s = float(np.median(apart_s)) if len(apart_s) else 0.0
    is_gap = apart_s > max(GAP_FACTOR * usual_s, LEAST_GAP_S)
    return np.concatenate(([0], np.cumsum(is_gap)))[: len(t_s)]


def thinned(x: Array, value: Array) -> Places:
    """The places of the readings that draw the same line as all of them.

    Of the readings in one column of pixels these are the first, the last, the lowest and the
    highest, in the order of their times; so no extreme vanishes.
    """
    if len(x) == 0:
        return np.zeros(0, dtype=np.intp)
    column = np.floor(x).astype(np.intp)
    begins = np.flatnonzero(np.diff(column, prepend=column[0] - 1))
    ends = np.append(begins[1:], len(x)) - 1
    run = np.repeat(np.arange(len(begins)), ends - begins + 1)
    by_value = np.lexsort((value, run))
    return np.unique(np.concatenate((begins, ends, by_value[begins], by_value[ends])))


def value_digits(value_mm: float, u_mm: float, unit: LengthUnit) -> tuple[str, str]:
    """A settled value and its expanded uncertainty U = 2u, in digits: ``("76.2034", "0.0006")``.

    U has two significant digits, rounded up so that it never looks better than it is; the value is
    rounded to its last place (JCGM 100:2008, 7.2.6).
    """
    in_mm = Unit(unit).in_mm
    # Twelve digits first: the dust of a binary float must not push 0.0012 up to 0.0013.
    expanded = Context(prec=12).divide(Decimal(2 * u_mm), in_mm)
    place = FINEST if expanded == 0 else max(Decimal(1).scaleb(expanded.adjusted() - 1), FINEST)
    place = min(place, Decimal(1))
    value = digits_in(value_mm, unit, place * in_mm, sign=False)
    return value, f"{expanded.quantize(place, ROUND_UP):f}"


def length_digits(length_mm: Decimal, unit: LengthUnit) -> str:
    """A length of a specification with every digit it has; in inches to 1e-7."""
    if unit == "mm":
        return f"{length_mm:f}"
    return f"{round(length_mm / Unit(unit).in_mm, 7).normalize():f}"


def span_words(from_s: float, until_s: float) -> str:
    """From when to when, with the decimals that tell the two apart; one time if they are one."""
    span_s = until_s - from_s
    if span_s <= 0:
        return f"{from_s:.2f} s"
    places = min(max(2 - math.floor(math.log10(span_s)), 0), 3)
    return f"{from_s:.{places}f} s to {until_s:.{places}f} s"
