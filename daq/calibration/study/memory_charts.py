"""Stability: charts that remember, for small lasting changes: EWMA and tabular cumulative sum.

Values, targets and limits are in one unit.

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4 (exponentially weighted moving
average) and 6.3.2.3 (cumulative sum, tabular form; E. S. Page, Biometrika 41 (1954) 100).
"""

import math
from collections.abc import Sequence

from daq.calibration.study.charts import Chart, Stability, beyond
from daq.calibration.study.errors import StudyError
from daq.calibration.study.run_rules import Flag


def ewma(
    values: Sequence[float],
    *,
    target: float,
    sd: float,
    weight: float = 0.2,
    multiple: float = 3.0,
    widening: bool = False,
) -> Stability:
    """The exponentially weighted moving average: each point is weight·value + (1 − weight)·before.

    Args:
        values: in the order in which they were taken; the average starts at ``target``.
        target: where the values ought to lie.
        sd: standard deviation of one value, known beforehand.
        weight: of the newest value, above 0, up to 1.
        multiple: so many standard deviations of the average from target to limit.
        widening: limits for the average of so few values as there are so far; else the limits
            of a long series at every point.

    Raises:
        StudyError: no values; ``sd`` or ``multiple`` not above 0; ``weight`` out of its range.
    """
    if not values:
        raise StudyError("no values: there is nothing to chart")
    if not (sd > 0 and multiple > 0 and 0 < weight <= 1):
        raise StudyError(
            f"an average with weight {weight}, standard deviation {sd} and multiple {multiple} has "
            "no limits; all must be above 0, and the weight at most 1"
        )
    points = []
    at = target
    for value in values:
        at = weight * value + (1 - weight) * at
        points.append(at)
    reach = multiple * sd * math.sqrt(weight / (2 - weight))
    reaches = [
        reach * (math.sqrt(1 - (1 - weight) ** (2 * i)) if widening else 1.0)
        for i in range(1, len(values) + 1)
    ]
    lower = tuple(target - each for each in reaches)
    upper = tuple(target + each for each in reaches)
    chart = Chart(
        f"EWMA, weight {weight:g}",
        tuple(points),
        target,
        lower,
        upper,
        beyond(points, lower, upper),
        f"limits: the average beyond {multiple:g} of its standard deviations",
    )
    return Stability((chart,), target, sd)


def cusum(values: Sequence[float], *, target: float, k: float, h: float) -> Stability:
    """The two cumulative sums of what lies beyond target ± k; a signal when one is above h.

    The chart holds the high side as ``values`` and the low side, negated, as ``mirrored``.

    Args:
        values: in the order in which they were taken.
        target: where the values ought to lie.
        k: half the lasting change that matters, in the unit of the values; 0 or above.
        h: how high a sum may rise, in the unit of the values; above 0.

    Raises:
        StudyError: no values, or k or h out of its range.
    """
    if not values:
        raise StudyError("no values: there is nothing to chart")
    if not (k >= 0 and h > 0):
        raise StudyError(f"k = {k} and h = {h}: k must not be below 0, and h must be above 0")
    high, low = [], []
    above = below = 0.0
    flags = []
    for i, value in enumerate(values):
        above = max(0.0, above + value - target - k)
        below = max(0.0, below + target - value - k)
        high.append(above)
        low.append(-below)
        for side, total in (("high", above), ("low", below)):
            if total > h:
                flags.append(Flag(i, f"sum on the {side} side above h"))
    chart = Chart(
        "cumulative sums",
        tuple(high),
        0.0,
        (-h,) * len(values),
        (h,) * len(values),
        tuple(flags),
        f"limits: a sum above h = {h:.6g}, with k = {k:.6g}",
        mirrored=tuple(low),
    )
    return Stability((chart,), target, None)
