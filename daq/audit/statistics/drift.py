"""Whether the error of a gauge drifts from year to year, and when it will have left its limits.

Source: JCGM 100:2008, H.3 (the line and its uncertainty); Student's t for the interval.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from daq.calibration.student import student_k, student_within

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Drifts:
    """One straight line a series: value = mean + slope·(x − mean_x). Arrays of shape (series,).

    ``slope_u`` is the standard uncertainty of the slope, from the scatter about the line, with
    ``dof`` degrees of freedom. ``slope_low`` to ``slope_high`` holds the true one with the level
    asked for. ``p`` is the chance of a slope as far from 0 if there is none. What cannot be known
    is no number: all of it where x does not differ or fewer than two points are there, all but the
    slope of two points.
    """

    mean_x: Floats
    mean: Floats
    slope: Floats
    slope_u: Floats
    slope_low: Floats
    slope_high: Floats
    p: Floats
    dof: npt.NDArray[np.int64]
    mean_u: Floats

    def at(self, x: npt.ArrayLike, level: float = 0.95) -> tuple[Floats, Floats, Floats]:
        """What each line says at ``x``, and the interval that holds its true value there.

        Args:
            x: shape (series,), or one for all. Nothing shows that a gauge goes on straight.
            level: of the interval, above 0 and below 1.

        Returns:
            The value, its lower and its upper bound; each of shape (series,).
        """
        away = np.asarray(x, dtype=np.float64) - self.mean_x
        value = self.mean + self.slope * away
        k = _by_dof(self.dof, level)
        half = k * np.hypot(self.mean_u, self.slope_u * away)
        return value, value - half, value + half


def drifts(
    series: npt.ArrayLike,
    x: npt.ArrayLike,
    values: npt.ArrayLike,
    u: npt.ArrayLike | None = None,
    level: float = 0.95,
) -> Drifts:
    """A straight line through each of many series, with the interval of its slope.

    The points' uncertainties say what each weighs against the others; how sure the slope is comes
    from their scatter about the line.

    Args:
        series: where each series begins among the points, from 0, rising; shape (series,).
        x: such as days or years; shape (points,), the points of a series side by side.
        values: such as errors; shape (points,).
        u: standard uncertainties, above 0; shape (points,). Without them all weigh the same.
        level: of the interval of the slope, above 0 and below 1.

    Raises:
        ValueError: arrays that do not go together, an empty series, or an uncertainty not above 0.
    """
    starts = np.asarray(series, dtype=np.int64)
    along, seen = np.asarray(x, dtype=np.float64), np.asarray(values, dtype=np.float64)
    sizes = _sizes(starts, along, seen)
    weights = _weights(u, along, starts, sizes)

    def total(each: Floats) -> Floats:
        return np.add.reduceat(each, starts) if starts.size else np.zeros(0)

    weight = total(weights)
    # Taken from the first point of each series first: keeps the digits of dates far from zero.
    from_x = along - np.repeat(along[starts], sizes)
    from_value = seen - np.repeat(seen[starts], sizes)
    shift_x, shift = total(weights * from_x) / weight, total(weights * from_value) / weight
    dx, dv = from_x - np.repeat(shift_x, sizes), from_value - np.repeat(shift, sizes)
    spread = total(weights * dx * dx)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.where(spread > 0, total(weights * dx * dv) / spread, np.nan)
        residuals = dv - np.repeat(slope, sizes) * dx
        dof = np.maximum(sizes - 2, 0)
        variance = np.where(dof > 0, total(weights * residuals * residuals) / dof, np.nan)
        slope_u, mean_u = np.sqrt(variance / spread), np.sqrt(variance / weight)
        ratio = np.abs(slope) / slope_u
    half = _by_dof(dof, level) * slope_u
    return Drifts(
        mean_x=along[starts] + shift_x,
        mean=seen[starts] + shift,
        slope=slope,
        slope_u=slope_u,
        slope_low=slope - half,
        slope_high=slope + half,
        p=np.array(
            [_outside(t, int(n)) for t, n in zip(ratio, dof, strict=True)], dtype=np.float64
        ),
        dof=dof,
        mean_u=mean_u,
    )


def _sizes(starts: npt.NDArray[np.int64], x: Floats, values: Floats) -> npt.NDArray[np.int64]:
    """How many points each series has."""
    if x.ndim != 1 or x.shape != values.shape or starts.ndim != 1:
        raise ValueError(f"{x.shape} places and {values.shape} values do not go together")
    sizes = np.diff(np.append(starts, x.size))
    if starts.size and (starts[0] != 0 or np.any(sizes < 1)):
        raise ValueError("the series must begin at 0, rise, and each have a point")
    return sizes


def _weights(
    u: npt.ArrayLike | None,
    x: Floats,
    starts: npt.NDArray[np.int64],
    sizes: npt.NDArray[np.int64],
) -> Floats:
    """1/u², relative to the surest point of the series: none above 1, whatever the unit."""
    if u is None:
        return np.ones(x.size)
    given = np.asarray(u, dtype=np.float64)
    if given.shape != x.shape or not np.all(given > 0):
        raise ValueError("every point needs its uncertainty, and each must be above 0")
    if not starts.size:
        return given
    return (np.repeat(np.minimum.reduceat(given, starts), sizes) / given) ** 2


def _by_dof(dof: npt.NDArray[np.int64], level: float) -> Floats:
    """The factor for each number of degrees of freedom; no number where there are none."""
    factors = {int(n): student_k(level, float(n)) if n > 0 else math.nan for n in np.unique(dof)}
    return np.array([factors[int(n)] for n in dof], dtype=np.float64)


def _outside(t: float, dof: int) -> float:
    if dof == 0 or math.isnan(t):
        return math.nan
    return 0.0 if math.isinf(t) else student_within(float(t), float(dof))[1]
