"""Quantiles of the normal and Student distributions, for coverage factors.

Both are two-sided: k such that a value lies within ±k with the wanted probability. They agree with
tables and libraries to 1e-10 relative or better; degrees of freedom need not be whole.
"""

import math
from functools import lru_cache
from statistics import NormalDist

from daq.calibration.errors import CalibrationError

_NEAR_NORMAL = 1e5
"""From here on the expansion about the normal quantile is better than the continued fraction."""

_TINY = 1e-300
_MOST_STEPS = 20_000


def normal_k(level: float) -> float:
    """The k for which a normal variable lies within ±k·u with probability ``level``.

    Raises:
        CalibrationError: ``level`` is not above 0 and below 1.
    """
    _require_level(level)
    # The lower tail is exact where the level is near 1; 1 - tail would not be.
    return -NormalDist().inv_cdf((1 - level) / 2)


@lru_cache(maxsize=4096)
def student_k(level: float, dof: float) -> float:
    """The k for which Student's t lies within ±k with probability ``level``: t_p(ν) of the GUM.

    Args:
        level: above 0 and below 1.
        dof: degrees of freedom, at least 0.1, whole or not; infinite gives the normal k.

    Raises:
        CalibrationError: the level or the degrees of freedom are out of range, or no float holds k.

    Source: JCGM 100:2008, G.3 and Table G.2; the distribution function by DLMF 8.17.
    """
    _require_level(level)
    if not dof >= 0.1:
        raise CalibrationError(
            f"{dof} degrees of freedom give no coverage factor; 0.1 is the least"
        )
    if dof >= _NEAR_NORMAL:
        return _expanded_about_normal(normal_k(level), dof)
    low, high = 0.0, normal_k(level)
    while student_within(high, dof)[0] < level:
        low, high = high, 2 * high
        if high > 1e100:
            raise CalibrationError(
                f"no coverage factor can be given for {level} with {dof} degrees of freedom"
            )
    return _refined(level, dof, low, high)


def student_within(t: float, dof: float) -> tuple[float, float]:
    """The probabilities that Student's t lies within ±t, and outside, each to full precision.

    Source: DLMF 8.17.22: regularised incomplete beta function by its continued fraction.
    """
    if t == 0:
        return 0.0, 1.0
    square = t * t
    # x = ν/(ν + t²) and 1 - x are both worked out directly, so neither loses digits.
    x, rest = dof / (dof + square), square / (dof + square)
    # Common to both forms: x^(ν/2) · (1-x)^(1/2) / B(ν/2, 1/2).
    front = math.exp(-0.5 * dof * math.log1p(square / dof)) * math.sqrt(rest)
    front *= _gamma_ratio(dof / 2) / math.sqrt(math.pi)
    if x < (dof / 2 + 1) / (dof / 2 + 2.5):
        outside = front * _beta_fraction(x, dof / 2, 0.5) / (dof / 2)
        return 1 - outside, outside
    inside = front * _beta_fraction(rest, 0.5, dof / 2) / 0.5
    return inside, 1 - inside


def _expanded_about_normal(z: float, dof: float) -> float:
    """Student's quantile from the normal one ``z``, as a series in 1/ν (Cornish and Fisher).

    Source: Abramowitz and Stegun, 26.7.5, to the third power.
    """
    square = z * z
    first = z * (square + 1) / 4
    second = z * ((5 * square + 16) * square + 3) / 96
    third = z * (((3 * square + 19) * square + 17) * square - 15) / 384
    return z + (first + (second + third / dof) / dof) / dof


def _refined(level: float, dof: float, low: float, high: float) -> float:
    """Newton's method within a bracket that only ever shrinks."""
    density_at_zero = _gamma_ratio(dof / 2) / math.sqrt(math.pi * dof)
    t = (low + high) / 2
    for _ in range(200):
        inside, outside = student_within(t, dof)
        # The smaller of the two probabilities is compared: it holds the digits.
        excess = inside - level if level < 0.5 else (1 - level) - outside
        if excess < 0:
            low = t
        else:
            high = t
        slope = 2 * density_at_zero * math.exp(-0.5 * (dof + 1) * math.log1p(t * t / dof))
        step = t - excess / slope if slope > 0 else math.inf
        following = step if low < step < high else (low + high) / 2
        if abs(following - t) <= 4e-16 * t:
            return following
        t = following
    return t


def _gamma_ratio(x: float) -> float:
    """Γ(x + ½)/Γ(x), without the digits that a difference of logarithms loses.

    Source: the asymptotic series in 1/x, DLMF 5.11.13, where x is large.
    """
    if x < 100:
        return math.gamma(x + 0.5) / math.gamma(x)
    y = 1 / x
    series = 1 + y * (
        -1 / 8 + y * (1 / 128 + y * (5 / 1024 + y * (-21 / 32768 - y * 399 / 262144)))
    )
    return math.sqrt(x) * series


def _beta_fraction(x: float, a: float, b: float) -> float:
    """The continued fraction of the incomplete beta function, by the modified Lentz method."""
    c, d = 1.0, 1 / _not_zero(1 - (a + b) * x / (a + 1))
    value = d
    for m in range(1, _MOST_STEPS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for coefficient in (even, odd):
            d = 1 / _not_zero(1 + coefficient * d)
            c = _not_zero(1 + coefficient / c)
            value *= c * d
        if abs(c * d - 1) < 2e-16:
            return value
    raise CalibrationError("Student's distribution could not be computed for these figures")


def _not_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


def _require_level(level: float) -> None:
    if not 0 < level < 1:
        raise CalibrationError(
            f"a level of confidence of {level} makes no sense; it lies between 0 and 1, as in 0.95"
        )
