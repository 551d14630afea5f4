"""What a gauge out of its limits touched: captures with the error taken off, and their verdicts.

Verdicts are by simple acceptance: within the limits or not, and on a limit is within. A value is
near a limit if it lies within its expanded uncertainty of it (k = 2).
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from daq.audit.impact.curve import Floats, Ints
from daq.audit.impact.likely import likely
from daq.audit.impact.periods import Period

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

    def __getitem__(self, which: npt.NDArray[np.intp] | Bools | slice) -> "Captures":
        return Captures(
            self.seq[which], self.at_us[which], self.value_mm[which], self.u_mm[which],
            self.lower_mm[which], self.upper_mm[which], self.job[which], self.feature[which],
            self.document[which], self.operator[which],
        )  # fmt: skip


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
    taken = captures[within(period, captures.at_us)]
    (only,) = touched_in([period], taken, [taken.seq.size], in_time=in_time)
    return only


def within(period: Period, at_us: Ints) -> Bools:
    """Which times, in µs, lie within a period; shape as given."""
    inside = np.ones(at_us.shape, dtype=bool)
    if period.after_us is not None:
        inside &= at_us > period.after_us
    if period.until_us is not None:
        inside &= at_us <= period.until_us
    return inside


def touched_in(
    periods: Sequence[Period], taken: Captures, counts: Sequence[int], *, in_time: bool
) -> Iterator[Touched]:
    """As ``touched``, for many periods: what is the same in all is worked out once.

    Args:
        periods: from ``periods_of``, of one gauge or of many.
        taken: the captures of the first period, then those of the next, and so on.
        counts: how many each has.
        in_time: as for ``touched``.
    """
    ends = np.cumsum(counts, dtype=np.int64).tolist()
    rows = [slice(end - count, end) for end, count in zip(ends, counts, strict=True)]
    size = taken.seq.size
    error, u_error = np.full(size, math.nan), np.full(size, math.nan)
    outside, corrected = np.zeros(size, dtype=bool), np.zeros(size, dtype=bool)
    for period, its in zip(periods, rows, strict=True):
        if its.stop > its.start and not period.why_not:
            error[its], u_error[its], outside[its] = _errors(period, taken, its, in_time)
            corrected[its] = True
    value, u, before, after, p_before, p_after, group = _judged(taken, error, u_error, corrected)
    for period, its in zip(periods, rows, strict=True):
        yield Touched(
            period, taken[its], error[its], value[its], u[its], before[its], after[its],
            p_before[its], p_after[its], outside[its], group[its],
        )  # fmt: skip


def _errors(
    period: Period, taken: Captures, its: slice, in_time: bool
) -> tuple[Floats, Floats, Bools]:
    """The error at each capture, its uncertainty, and whether it had to be taken from an end."""
    curve, other, value = period.curve, period.other, taken.value_mm[its]
    assert curve is not None  # why_not has said so
    error, u, outside = curve.at(value), curve.u_at(value), curve.is_outside(value)
    if not (in_time and other is not None and not other.slip):
        return error, u, outside
    after, until = period.after_us, period.until_us
    assert after is not None  # there is a calibration at either end
    assert until is not None
    share = (taken.at_us[its] - after) / (until - after)
    share = share if period.what == "found" else 1.0 - share
    both = (1.0 - share) * other.at(value) + share * error
    # Both calibrations may rest on one standard: their uncertainties are taken to go together.
    return both, (1.0 - share) * other.u_at(value) + share * u, outside | other.is_outside(value)


def _judged(
    taken: Captures, error: Floats, u_error: Floats, is_corrected: Bools
) -> tuple[Floats, Floats, Bools, Bools, Floats, Floats, Ints]:
    """Corrected values, their uncertainties, verdicts and chances before and after, and groups.

    Where nothing is corrected, the verdict after is that before, and there are no figures after.
    """
    corrected = taken.value_mm - error
    u_after = np.hypot(taken.u_mm, np.where(np.isnan(u_error), 0.0, u_error))
    u_after[~is_corrected] = math.nan
    before, near_before, p_before = _against(taken, taken.value_mm, taken.u_mm)
    after, near_after, p_after = _against(taken, corrected, u_after)
    after = np.where(is_corrected, after, before)
    group = np.where(near_after & ~near_before, WEAKENED, UNAFFECTED)
    group[before != after] = FLIPS
    group[np.isinf(taken.lower_mm) & np.isinf(taken.upper_mm)] = NOT_JUDGED
    group[~is_corrected] = NOT_CORRECTED
    return corrected, u_after, before, after, p_before, p_after, group.astype(np.int64)


def _against(taken: Captures, value: Floats, u: Floats) -> tuple[Bools, Bools, Floats]:
    """Whether each value is within its limits, is near one, and how likely the true one is."""
    low, high = value - taken.lower_mm, taken.upper_mm - value
    near = np.minimum(np.abs(low), np.abs(high)) < K * u
    p = np.full(value.shape, math.nan)
    is_known = u > 0
    p[is_known] = likely(low[is_known] / u[is_known], high[is_known] / u[is_known])
    return (low >= 0) & (high >= 0), near, p
