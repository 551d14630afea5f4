"""Bias against references, and its linearity: does the gauge read true, and equally so everywhere?

Values, references, biases and standard deviations are in one unit. The references are taken as
exact here: what is not known about them belongs into the uncertainty budget.

Sources: JCGM 200:2012 (VIM) 2.18 (measurement bias); JCGM 100:2008 (GUM), H.3 (the line and its
uncertainty); NIST/SEMATECH e-Handbook, 1.3.5.2 (t test) and 4.4.4.6 (lack of fit).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from daq.calibration.study.errors import StudyError
from daq.calibration.study.numerics import f_upper_tail, t_quantile, t_two_sided_tail

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Referred:
    """One value of a standard whose reference value is known."""

    reference: float
    value: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number with its standard uncertainty and the test whether it could be 0."""

    value: float
    u: float
    dof: int
    t: float | None
    """``value`` over ``u``; None where both are 0, infinite where only ``u`` is."""
    p: float | None
    """How often chance alone would give a t so far from 0; None without t."""
    low: float
    high: float
    """The interval that holds the true number with ``confidence``."""
    confidence: float

    @property
    def stands_out(self) -> bool:
        """Whether 0 lies outside the interval."""
        return not self.low <= 0.0 <= self.high


@dataclass(frozen=True, slots=True)
class BiasAt:
    """The bias at one reference value. Without repeats, ``sd`` and ``estimate`` are None."""

    reference: float
    n: int
    bias: float
    sd: float | None
    estimate: Estimate | None


@dataclass(frozen=True, slots=True)
class Line:
    """bias = intercept + slope · (reference − centre), by least squares.

    ``centre`` is the mean reference: there, intercept and slope are not correlated.
    """

    centre: float
    at_centre: Estimate
    slope: Estimate
    at_zero: Estimate
    """The intercept at a reference of 0, which may be far from where anything was measured."""
    residual_sd: float
    dof: int
    n: int
    lack_of_fit: "LackOfFit | None"
    """None without repeats, or with two references only."""

    def bias(self, reference: float) -> Estimate:
        """The bias that the line gives at ``reference``, in the interval for the line there."""
        away = reference - self.centre
        return estimate(
            self.at_centre.value + self.slope.value * away,
            math.hypot(self.at_centre.u, self.slope.u * away),
            self.dof,
            self.slope.confidence,
        )


@dataclass(frozen=True, slots=True)
class LackOfFit:
    """F test of the scatter about the line against the scatter of repeats."""

    f: float
    dof_1: int
    dof_2: int
    p: float


@dataclass(frozen=True, slots=True)
class BiasStudy:
    """What a study of bias comes to. ``line`` is None with one reference only."""

    at: tuple[BiasAt, ...]
    overall: Estimate
    line: Line | None
    values: tuple[Referred, ...]
    remarks: tuple[str, ...]


def bias_study(values: Sequence[Referred], *, confidence: float = CONFIDENCE) -> BiasStudy:
    """Bias at each reference, over all, and as a line over the reference.

    Raises:
        StudyError: fewer than 2 values; or 2 references and fewer than 3 values, which any line
            fits.
    """
    if len(values) < 2:
        raise StudyError(f"{len(values)} value: a bias needs 2 at least, to know how they scatter")
    groups: dict[float, list[float]] = {}
    for each in values:
        groups.setdefault(each.reference, []).append(each.value - each.reference)
    at = tuple(_bias_at(x, groups[x], confidence) for x in sorted(groups))
    biases = [each.value - each.reference for each in values]
    overall = mean_estimate(biases, confidence)
    remarks = []
    alone = sum(each.n == 1 for each in at)
    if alone:
        remarks.append(f"no repeats at {alone} of {len(at)} references: no test of the bias there")
    line = None
    if len(at) > 1:
        line = fit_line([each.reference for each in values], biases, confidence=confidence)
        if line.lack_of_fit and line.lack_of_fit.p < 1 - confidence:
            remarks.append(
                f"a straight line does not fit (lack of fit: p = {line.lack_of_fit.p:.2g}); use "
                "the bias at each reference instead"
            )
    else:
        remarks.append("one reference only: nothing is known of linearity")
    return BiasStudy(at, overall, line, tuple(values), tuple(remarks))


def estimate(value: float, u: float, dof: int, confidence: float = CONFIDENCE) -> Estimate:
    """A number with its standard uncertainty, tested against 0 and with its interval."""
    if not 0 < confidence < 1:
        raise StudyError(f"a confidence of {confidence} is none; it is above 0 and below 1")
    half = t_quantile((1 + confidence) / 2, dof) * u
    t: float | None = value / u if u else (math.copysign(math.inf, value) if value else None)
    p = None if t is None else t_two_sided_tail(t, dof)
    return Estimate(value, u, dof, t, p, value - half, value + half, confidence)


def mean_estimate(values: Sequence[float], confidence: float = CONFIDENCE) -> Estimate:
    """The mean of values and the t test whether it could be 0; at least 2 values."""
    n = len(values)
    mean, sd = _mean_and_sd(values)
    return estimate(mean, sd / math.sqrt(n), n - 1, confidence)


def fit_line(xs: Sequence[float], ys: Sequence[float], *, confidence: float = CONFIDENCE) -> Line:
    """The straight line through points by least squares, all points of equal weight.

    Raises:
        StudyError: fewer than 3 points, or all at one x.
    """
    n = len(xs)
    if n < 3 or len(set(xs)) < 2:
        raise StudyError(
            f"{n} values at {len(set(xs))} references: a line with its uncertainty needs 3 values "
            "and 2 references at least"
        )
    centre = math.fsum(xs) / n
    away = [x - centre for x in xs]
    spread = math.fsum(d * d for d in away)
    mean = math.fsum(ys) / n
    slope = math.fsum(d * (y - mean) for d, y in zip(away, ys, strict=True)) / spread
    left = [y - mean - slope * d for d, y in zip(away, ys, strict=True)]
    # The mean of x has its own rounding: the residuals' own mean is taken off again.
    sum_of_squares = math.fsum((each - math.fsum(left) / n) ** 2 for each in left)
    dof = n - 2
    s = math.sqrt(sum_of_squares / dof)
    u_mean, u_slope = s / math.sqrt(n), s / math.sqrt(spread)
    return Line(
        centre,
        estimate(mean, u_mean, dof, confidence),
        estimate(slope, u_slope, dof, confidence),
        estimate(mean - slope * centre, math.hypot(u_mean, u_slope * centre), dof, confidence),
        s,
        dof,
        n,
        _lack_of_fit(xs, ys, sum_of_squares),
    )


def _lack_of_fit(xs: Sequence[float], ys: Sequence[float], total: float) -> LackOfFit | None:
    groups: dict[float, list[float]] = {}
    for x, y in zip(xs, ys, strict=True):
        groups.setdefault(x, []).append(y)
    dof_1, dof_2 = len(groups) - 2, len(xs) - len(groups)
    within = math.fsum(
        (y - math.fsum(group) / len(group)) ** 2 for group in groups.values() for y in group
    )
    if dof_1 < 1 or dof_2 < 1 or within == 0.0:
        return None
    f = max(total - within, 0.0) / dof_1 / (within / dof_2)
    return LackOfFit(f, dof_1, dof_2, f_upper_tail(f, dof_1, dof_2))


def _bias_at(reference: float, biases: Sequence[float], confidence: float) -> BiasAt:
    n = len(biases)
    if n == 1:
        return BiasAt(reference, 1, biases[0], None, None)
    mean, sd = _mean_and_sd(biases)
    return BiasAt(reference, n, mean, sd, mean_estimate(biases, confidence))


def _mean_and_sd(values: Sequence[float]) -> tuple[float, float]:
    from daq.settle.statistics import mean_and_sd

    return mean_and_sd(values)
