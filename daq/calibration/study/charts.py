"""Stability: charts of single values with their moving range, and of averages of subgroups.

Values, centre lines and limits are in one unit.

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1 (averages with ranges or standard
deviations), 6.3.2.2 (individuals). Limits are at three standard deviations.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from daq.calibration.study.constants import chart_constants
from daq.calibration.study.errors import StudyError
from daq.calibration.study.run_rules import BEYOND, Flag, RuleSet, broken_rules
from daq.settle.statistics import mean_and_sd


@dataclass(frozen=True, slots=True)
class Chart:
    """Points in the order in which they were taken, with a centre line and limits.

    ``lower`` and ``upper`` hold one limit a point; None where there is none. ``mirrored`` is a
    second series (a cumulative sum has two), each of its points 0 or below.
    """

    name: str
    values: tuple[float, ...]
    centre: float
    lower: tuple[float, ...] | None
    upper: tuple[float, ...] | None
    flags: tuple[Flag, ...]
    rules: str
    """Which rules were held against the points, in words."""
    mirrored: tuple[float, ...] | None = None
    first: int = 0
    """Which value of the data the first point belongs to: 1 for moving ranges, else 0."""

    def shown(self, value: float) -> str:
        """A centre or limit in digits, to about a thousandth of the way between the limits."""
        ends = [*(self.lower or ()), *(self.upper or ()), self.centre, value]
        reach = max(ends) - min(ends)
        places = max(0, 3 - math.floor(math.log10(reach))) if reach > 0 else 6
        return f"{value:.{min(places, 15)}f}".replace("-", "−")


@dataclass(frozen=True, slots=True)
class Stability:
    """One or two charts of the same data, with what their limits rest on."""

    charts: tuple[Chart, ...]
    centre: float
    sd: float | None
    """Standard deviation of a single value that the limits rest on; None where they do not."""
    remarks: tuple[str, ...] = ()

    @property
    def is_stable(self) -> bool:
        """Whether no point breaks a rule."""
        return not any(chart.flags for chart in self.charts)


def sd_of_moving_range(values: Sequence[float]) -> float:
    """The standard deviation from the mean range of neighbours: a slow drift hardly widens it.

    Raises:
        StudyError: fewer than 2 values, or all neighbours equal.
    """
    if len(values) < 2:
        raise StudyError(f"{len(values)} value: a chart needs 2 at least, better 20")
    sd = math.fsum(abs(b - a) for a, b in pairwise(values)) / (len(values) - 1)
    if sd == 0.0:
        raise StudyError(
            "no two neighbours differ: the display step is too coarse for limits, or the gauge is "
            "stuck"
        )
    return sd / chart_constants(2).d2


def individuals(
    values: Sequence[float],
    *,
    centre: float | None = None,
    sd: float | None = None,
    rules: RuleSet = "zones",
) -> Stability:
    """Single values and their moving ranges.

    Args:
        values: in the order in which they were taken.
        centre: the centre line, where it is known beforehand; None: the mean of the values.
        sd: standard deviation, where it is known beforehand; None: from the moving ranges.
        rules: which rules are held against the values; the ranges are held against their limit.

    Raises:
        StudyError: as ``sd_of_moving_range``.
    """
    of_two = chart_constants(2)
    sd = _known(sd) if sd is not None else sd_of_moving_range(values)
    centre = math.fsum(values) / len(values) if centre is None else centre
    ranges = [abs(b - a) for a, b in pairwise(values)]
    mean_range = sd * of_two.d2
    singles = Chart(
        "individual values",
        tuple(values),
        centre,
        (centre - 3 * sd,) * len(values),
        (centre + 3 * sd,) * len(values),
        broken_rules(values, centre, sd, rules),
        rule_words(rules),
    )
    moving = _scatter_chart(
        "moving ranges", ranges, mean_range, (0.0, of_two.d4_upper * mean_range), first=1
    )
    return Stability((singles, moving), centre, sd, _few(len(values)))


def averages(
    subgroups: Sequence[Sequence[float]],
    *,
    by: Literal["range", "sd"] = "range",
    rules: RuleSet = "zones",
) -> Stability:
    """Averages of subgroups, and their ranges or standard deviations.

    Args:
        subgroups: in the order in which they were taken, all with equally many values.
        by: what the limits come from.
        rules: which rules are held against the averages.

    Raises:
        StudyError: fewer than 2 subgroups, unequal sizes, fewer than 2 values each, or no scatter
            within any.
    """
    sizes = sorted({len(group) for group in subgroups})
    if len(subgroups) < 2 or len(sizes) > 1 or sizes[0] < 2:
        raise StudyError(
            f"{len(subgroups)} subgroups of {' or '.join(map(str, sizes)) or 'no'} values: a chart "
            "of averages needs 2 subgroups at least, with equally many values, 2 or more"
        )
    n = sizes[0]
    of = chart_constants(n)
    means = [math.fsum(group) / n for group in subgroups]
    by_range = by == "range"
    scatter = [max(g) - min(g) if by_range else mean_and_sd(g)[1] for g in subgroups]
    mean_scatter = math.fsum(scatter) / len(scatter)
    if mean_scatter == 0.0:
        raise StudyError(
            "no value differs from another of its subgroup: the display step is too coarse for "
            "limits, or the gauge is stuck"
        )
    sd = mean_scatter / (of.d2 if by_range else of.c4)
    centre = math.fsum(means) / len(means)
    reach = 3 * sd / math.sqrt(n)
    of_means = Chart(
        f"averages of {n}",
        tuple(means),
        centre,
        (centre - reach,) * len(means),
        (centre + reach,) * len(means),
        broken_rules(means, centre, sd / math.sqrt(n), rules),
        rule_words(rules),
    )
    factors = (of.d3_lower, of.d4_upper) if by_range else (of.b3_lower, of.b4_upper)
    name = "ranges" if by_range else "standard deviations"
    limits = (factors[0] * mean_scatter, factors[1] * mean_scatter)
    of_scatter = _scatter_chart(name, scatter, mean_scatter, limits)
    return Stability((of_means, of_scatter), centre, sd, _few(len(means)))


def rule_words(rules: RuleSet) -> str:
    """What a set of rules looks for, in words."""
    if rules == "limits":
        return "limits: a point beyond 3 standard deviations"
    return (
        "zones: a point beyond 3 standard deviations; 2 of 3 beyond 2, 4 of 5 beyond 1, 8 in a row "
        "on one side"
    )


def beyond(
    values: Sequence[float], lower: Sequence[float], upper: Sequence[float]
) -> tuple[Flag, ...]:
    """The points that lie beyond a limit of their own."""
    limits = zip(values, lower, upper, strict=True)
    return tuple(Flag(i, BEYOND) for i, (v, low, high) in enumerate(limits) if not low <= v <= high)


def _scatter_chart(
    name: str,
    values: Sequence[float],
    centre: float,
    limits: tuple[float, float],
    first: int = 0,
) -> Chart:
    """A chart of ranges or standard deviations; a lower limit of 0 is none."""
    lower, upper = ((limit,) * len(values) for limit in limits)
    return Chart(
        name,
        tuple(values),
        centre,
        lower if limits[0] > 0 else None,
        upper,
        beyond(values, lower, upper),
        "limits: a point beyond a limit",
        first=first,
    )


def _known(sd: float) -> float:
    if not (math.isfinite(sd) and sd > 0):
        raise StudyError(f"a standard deviation of {sd} gives no limits; it must be above 0")
    return sd


def _few(n: int) -> tuple[str, ...]:
    if n >= 20:
        return ()
    return (f"{n} points only: limits from fewer than 20 are rough (common practice)",)
