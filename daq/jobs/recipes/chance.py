"""What chance alone does: tails of the chi-square and Student distributions, in closed form.

For whole degrees of freedom both are finite sums, so no library is needed.

Source: M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 26.4.4, 26.4.5, 26.7.3
and 26.7.4 (from memory; held against tables in the tests).
"""

import math
from functools import lru_cache
from statistics import NormalDist

TWO_SIGMA = math.erf(math.sqrt(2.0))
"""The probability within two standard deviations of a normal distribution: 95.45 %."""

_SUMMED = 200
"""Above this many degrees of freedom Student's distribution is close to the normal one."""


def chi_square_tail(value: float, dof: int) -> float:
    """The probability that chi-square with ``dof`` degrees of freedom exceeds ``value``.

    Args:
        value: 0 or more.
        dof: 1 or more.
    """
    half = value / 2
    if half <= 0:
        return 1.0
    power = 0.5 if dof % 2 else 0.0
    tail = math.erfc(math.sqrt(half)) if dof % 2 else 0.0
    while power < dof / 2:
        tail += math.exp(power * math.log(half) - math.lgamma(power + 1) - half)
        power += 1
    return min(1.0, tail)


def student_within(t: float, dof: int) -> float:
    """The probability that Student's t with ``dof`` degrees of freedom lies within ±t.

    Args:
        t: 0 or more.
        dof: 1 or more.
    """
    angle = math.atan2(t, math.sqrt(dof))
    cosine, total = math.cos(angle), 0.0
    if dof % 2:
        term, upper = cosine, 3
        for power in range(1, dof - 1, 2):
            total += term
            term *= cosine * cosine * (power + 1) / upper
            upper += 2
        return (angle + math.sin(angle) * total) * 2 / math.pi
    term = 1.0
    for power in range(0, dof - 1, 2):
        total += term
        term *= cosine * cosine * (power + 1) / (power + 2)
    return math.sin(angle) * total


@lru_cache(maxsize=256)
def safety_factor(dof: int) -> float:
    """By how much a u from few residuals is multiplied, so that ±2u still covers 95.45 %.

    7.0 for one degree of freedom, 2.3 for two, 1.7 for three, and so on down to 1.

    Args:
        dof: degrees of freedom of the residuals, 1 or more.

    Source: half of Student's t for 95.45 % (JCGM 100:2008, G.3 and Table G.2). ISO 14253-2 prints
    the same figures as a safety factor for few measurements (from memory).
    """
    if dof > _SUMMED:
        return 1 + 5 / (4 * dof)
    low, high = 2.0, 14.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if student_within(middle, dof) < TWO_SIGMA else (low, middle)
    return high / 2


def highest_of(count: int) -> float:
    """By how much the highest of ``count`` equal values stands out by noise alone, in its sd.

    0 for one value, 0.59 for two (exactly 0.56), 1.43 for eight (exactly 1.42).

    Source: G. Blom's approximation to the expected largest normal order statistic (1958, from
    memory).
    """
    return NormalDist().inv_cdf((count - 0.375) / (count + 0.25))
