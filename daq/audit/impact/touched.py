"""What a gauge out of its limits touched: captures with the error taken off, and their verdicts.

Verdicts are by simple acceptance: within the limits or not, and on a limit is within. A value is
near a limit if it lies within its expanded uncertainty of it (k = 2).
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from daq.audit.impact.curve import Floats, Ints
from daq.audit.impact.periods import Period
from daq.spec.probability import between

Bools = npt.NDArray[np.bool_]
Texts = npt.NDArray[np.object_]

K = 2.0
"""Coverage factor of the expanded uncertainty, about 95 %."""

GROUPS = ("flips", "weakened", "unaffected", "not judged", "not corrected")
"""What becomes of a capture: its verdict turns over; it stands, but the value now lies within its
uncertainty of a limit and did not before; it stands; it has no limits; no error is known."""

FLIPS, WEAKENED, UNAFFECTED, NOT_JUDGED, NOT_CORRECTED = range(5)


@dataclass(frozen=True, slots=True, eq=False)
class Captures:
    """Captures of one gauge, in order; each of shape (n,).

    ``u_mm`` is no number where there is none, ``lower_mm`` and ``upper_mm`` are infinite.
    ``document`` is where the limits come from, ``seq`` the number of the row.
    """

    seq: Ints
    at_us: Ints
    value_mm: Floats
    u_mm: Floats
    lower_mm: Floats
    upper_mm: Floats
    job: Texts
    feature: Texts
    document: Texts
    operator: Texts

    def __getitem__(self, which: npt.NDArray[np.intp] | Bools) -> "Captures":
        return Captures(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


@dataclass(frozen=True, slots=True, eq=False)
class Touched:
    """The captures of one period, and what becomes of each; arrays of shape (n,).

    ``error_mm`` is what the gauge erred by, ``corrected_mm`` the value less that,
    ``corrected_u_mm`` its standard uncertainty. ``within_before`` and ``within_after`` are the
    verdicts, ``p_before`` and ``p_after`` the probabilities that the true value is within the
    limits; no number where no uncertainty is known. ``outside`` is whether the value lies beyond
    the calibrated lengths.
    ``group`` counts into ``GROUPS``.
    """

    period: Period
    captures: Captures
    error_mm: Floats
    corrected_mm: Floats
    corrected_u_mm: Floats
    within_before: Bools
    within_after: Bools
    p_before: Floats
    p_after: Floats
    outside: Bools
    group: Ints

    def count(self, group: int) -> int:
        """How many captures are in a group."""
        return int(np.sum(self.group == group))


def touched(period: Period, captures: Captures, *, in_time: bool = False) -> Touched:
    """What becomes of the captures that were taken within a period.

    Args:
        period: from ``periods_of``.
        captures: all of the gauge; those outside the period are left out.
        in_time: let the error grow in a straight line from the calibration at one end of the period
            to that at the other, where both have errors; else the error that the calibration found
            counts for all of the period.
    """
    inside = np.ones(captures.seq.shape, dtype=bool)
    if period.after_us is not None:
        inside &= captures.at_us > period.after_us
    if period.until_us is not None:
        inside &= captures.at_us <= period.until_us
    taken = captures[inside]
    if period.why_not or not taken.seq.size:
        return _uncorrected(period, taken)
    error, u_error, outside = _errors(period, taken, in_time)
    return _judged(period, taken, error, u_error, outside)


def _errors(period: Period, taken: Captures, in_time: bool) -> tuple[Floats, Floats, Bools]:
    """The error at each capture, its uncertainty, and whether it had to be taken from an end."""
    curve, other, value = period.curve, period.other, taken.value_mm
    assert curve is not None  # why_not has said so
    error, u, outside = curve.at(value), curve.u_at(value), curve.is_outside(value)
    if not (in_time and other is not None and not other.slip):
        return error, u, outside
    after, until = period.after_us, period.until_us
    assert after is not None  # there is a calibration at either end
    assert until is not None
    share = (taken.at_us - after) / (until - after)
    share = share if period.what == "found" else 1.0 - share
    both = (1.0 - share) * other.at(value) + share * error
    # Both calibrations may rest on one standard: their uncertainties are taken to go together.
    return both, (1.0 - share) * other.u_at(value) + share * u, outside | other.is_outside(value)


def _judged(
    period: Period, taken: Captures, error: Floats, u_error: Floats, outside: Bools
) -> Touched:
    corrected = taken.value_mm - error
    u_after = np.hypot(taken.u_mm, np.where(np.isnan(u_error), 0.0, u_error))
    before, near_before, p_before = _against(taken, taken.value_mm, taken.u_mm)
    after, near_after, p_after = _against(taken, corrected, u_after)
    group = np.where(near_after & ~near_before, WEAKENED, UNAFFECTED)
    group[before != after] = FLIPS
    group[np.isinf(taken.lower_mm) & np.isinf(taken.upper_mm)] = NOT_JUDGED
    return Touched(
        period, taken, error, corrected, u_after, before, after, p_before, p_after, outside,
        group.astype(np.int64),
    )  # fmt: skip


def _against(taken: Captures, value: Floats, u: Floats) -> tuple[Bools, Bools, Floats]:
    """Whether each value is within its limits, is near one, and how likely the true one is."""
    low, high = value - taken.lower_mm, taken.upper_mm - value
    near = np.minimum(np.abs(low), np.abs(high)) < K * u
    p = np.full(value.shape, math.nan)
    is_known = u > 0
    p[is_known] = _likely(low[is_known] / u[is_known], high[is_known] / u[is_known])
    return (low >= 0) & (high >= 0), near, p


def _likely(below: Floats, above: Floats) -> Floats:
    """The chance that a normal value lies so many deviations below to above its mean, at most."""
    pairs = zip(below.tolist(), above.tolist(), strict=True)
    return np.array([between(-low, high) for low, high in pairs], dtype=np.float64)


def _uncorrected(period: Period, taken: Captures) -> Touched:
    nothing = np.full(taken.seq.shape, math.nan)
    before, _, p_before = _against(taken, taken.value_mm, taken.u_mm)
    return Touched(
        period, taken, nothing, nothing, nothing, before, before, p_before, nothing,
        np.zeros(taken.seq.shape, dtype=bool),
        np.full(taken.seq.shape, NOT_CORRECTED, dtype=np.int64),
    )  # fmt: skip
