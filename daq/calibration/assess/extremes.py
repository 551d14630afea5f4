"""How far an extreme of noisy values may be off: by random draws.

The largest of many noisy errors is more often one that noise has made larger, so an extreme is too
large on average, and the most where the true errors are alike. This module needs numpy; it is
loaded when it is needed, not before.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from daq.calibration.points import Point
from daq.calibration.results import What

Values = NDArray[np.float64]
Extreme = Callable[[Values], Values]
"""From values, a row for each point, to one number for each column."""

PAIRS = 500
"""Draws of the noise, each with its opposite."""

RANGES = 20_000
"""Draws of the ranges of repeated readings."""

_SEED = 20
_HALVINGS = 8
_LEAST_SCATTER = 0.05


@dataclass(frozen=True, slots=True)
class Selection:
    """What noise does to an extreme.

    half_width_mm: of the interval about the extreme that holds the true one. bias_mm: by how much
    the extreme would be too large on average if the values that were found were the true ones.
    """

    half_width_mm: float
    bias_mm: float


@dataclass(frozen=True, slots=True)
class Choice:
    """What a characteristic is chosen from: values with their independent standard uncertainties.

    The values are errors, or for the hysteresis differences of two. ``number`` is that of them.
    """

    values_mm: Values
    u_mm: Values
    extreme: Extreme

    @property
    def number(self) -> int:
        """How many values there are."""
        return len(self.values_mm)


def choice_of(
    what: What,
    points: Sequence[Point],
    partial_mm: Decimal | None,
    reading_mm: Callable[[Point], float],
) -> Choice:
    """What a characteristic is chosen from.

    Args:
        what: any characteristic but the repeatability.
        points: of one run.
        partial_mm: length of the piece for the partial-range error.
        reading_mm: standard uncertainty of a point's reading.
    """
    up, down = ([p for p in points if p.series == way] for way in ("up", "down"))
    up.sort(key=lambda each: each.nominal_mm)
    down.sort(key=lambda each: each.nominal_mm)
    if what == "hysteresis":
        there = {each.nominal_mm: each for each in up}
        both = [(there[each.nominal_mm], each) for each in down if each.nominal_mm in there]
        apart = [float(back.error_mm - first.error_mm) for first, back in both]
        u = [math.hypot(*map(reading_mm, pair)) for pair in both]
        return Choice(np.array(apart), np.array(u), _largest)
    taken = up if what == "one-way span" else [*up, *down]
    errors = np.array([float(each.error_mm) for each in taken])
    u_mm = np.array([reading_mm(each) for each in taken])
    if what == "fixed-zero error":
        return Choice(errors, u_mm, _largest)
    if what != "partial-range error":
        return Choice(errors, u_mm, _range)
    pieces = [*_pieces(up, partial_mm, 0), *_pieces(down, partial_mm, len(up))]
    return Choice(errors, u_mm, lambda v: np.max([_range(v[each]) for each in pieces], axis=0))


def selection_of(choice: Choice, level: float) -> Selection:
    """How far from the true extreme the one that was found may be, from noise alone.

    Were the true values those that were found, but smaller by some factor, then with noise on top
    the extreme would fall somewhere about its true value. That factor is looked for at which it
    would be so far off as it then is, or further, with probability 1 - ``level``: a truth further
    away is not to be expected. For two values and no choice this comes to k times the standard
    uncertainty of their difference. Noise is drawn from one fixed seed, so the same points give
    the same figures.
    """
    extreme, found = choice.extreme, choice.values_mm[:, np.newaxis]
    noise = _noise(choice.number) * choice.u_mm[:, np.newaxis]
    found_mm = float(extreme(found)[0])
    bias_mm = float(extreme(found + noise).mean()) - found_mm

    def too_far(factor: float) -> bool:
        off_mm = np.abs(extreme(factor * found + noise) - factor * found_mm)
        return bool(np.mean(off_mm >= (1 - factor) * found_mm) > 1 - level)

    if too_far(0.0):  # not even a truth of zero would be unexpected: noise alone says how far
        width_mm = float(np.quantile(extreme(noise), level))
        return Selection(max(found_mm, width_mm), bias_mm)
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if too_far(middle) else (middle, high)
    return Selection((1 - (low + high) / 2) * found_mm, bias_mm)


def range_factor(numbers: tuple[int, ...], of: int, s_in_steps: float, level: float) -> float:
    """How many s the largest range among groups is off the mean range of ``of`` readings, at most.

    Readings are drawn as a display shows them, in whole steps. Range and pooled s come from the
    same readings and go together.

    Args:
        numbers: how many readings each group has, two or more.
        of: how many the group with the largest range has.
        s_in_steps: the pooled standard deviation as shown, in display steps.
        level: with which probability.

    Returns:
        The factor; 0 if two roundings alone, k = 1.96 times 0.41 steps, are more.
    """
    # s is known to so much of itself only (JCGM 100:2008, E.4.3), and steps make lumps: the worst
    # of its neighbours counts.
    vague = 1 / math.sqrt(2 * (sum(numbers) - len(numbers)))
    near = [s_in_steps / (1 + vague), s_in_steps, s_in_steps * (1 + vague)]
    scatters = [math.sqrt(max(each**2 - 1 / 12, _LEAST_SCATTER**2)) for each in near]
    return max(_range_factor(numbers, of, float(f"{each:.1g}"), level) for each in scatters)


@lru_cache(maxsize=128)
def _range_factor(numbers: tuple[int, ...], of: int, scatter: float, level: float) -> float:
    rng = np.random.Generator(np.random.PCG64(_SEED))

    def shown(number: int) -> Values:
        drawn: Values = np.floor(
            scatter * rng.standard_normal((number, RANGES)) + rng.random(RANGES)
        )
        return drawn

    groups = [shown(n) for n in numbers]
    squares = sum(each.var(axis=0) * len(each) for each in groups)
    s = np.sqrt(squares / (sum(numbers) - len(numbers)))
    off = np.abs(np.max([_range(each) for each in groups], axis=0) - _range(shown(of)).mean())
    rounding = 1.96 / math.sqrt(6)
    ratio = np.divide(off, s, out=np.zeros(RANGES), where=(off > rounding) & (s > 0))
    return float(np.quantile(ratio, level))


def _largest(values: Values) -> Values:
    largest: Values = np.abs(values).max(axis=0)
    return largest


def _range(values: Values) -> Values:
    spans: Values = values.max(axis=0) - values.min(axis=0)
    return spans


def _pieces(way: Sequence[Point], length_mm: Decimal | None, first: int) -> Iterator[slice]:
    """The columns of every piece of the length; one that lies within another is left out."""
    reached = 0
    for start, point in enumerate(way):
        end = start
        while end < len(way) and way[end].nominal_mm - point.nominal_mm <= (length_mm or 0):
            end += 1
        if end - start > 1 and end > reached:
            reached = end
            yield slice(first + start, first + end)


@lru_cache(maxsize=16)
def _noise(number: int) -> Values:
    half = np.random.Generator(np.random.PCG64(_SEED)).standard_normal((number, PAIRS))
    return np.concatenate([half, -half], axis=1)
