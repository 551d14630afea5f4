"""Mean, scatter and standard uncertainty of readings that are not independent.

Everything here takes plain sequences of floats and gives plain floats; there is no state. The
lengths may be in any unit: what goes in in millimetres comes out in millimetres.
"""

import math
from collections.abc import Sequence
from itertools import pairwise


def mean_and_sd(values: Sequence[float]) -> tuple[float, float]:
    """Arithmetic mean and experimental standard deviation of a single value.

    Both are summed exactly (`math.fsum`), so readings whose scatter sits in the last digits of a
    large number keep it. The standard deviation has the divisor n - 1.

    Raises:
        ValueError: fewer than two values; one reading says nothing about its own scatter.

    Source: JCGM 100:2008 (GUM), 4.2.1 and 4.2.2, equations (3) and (4).
    """
    n = len(values)
    if n < 2:
        raise ValueError(f"a standard deviation needs at least 2 values, got {n}")
    # The shift by the first value is exact for near values and keeps the mean's own rounding small.
    shift = values[0]
    mean_of_rest = math.fsum(v - shift for v in values) / n
    variance = math.fsum((v - shift - mean_of_rest) ** 2 for v in values) / (n - 1)
    return math.fsum(values) / n, math.sqrt(variance)


def autocorrelations(values: Sequence[float], max_lag: int) -> list[float]:
    """Autocorrelation coefficients r_1 ... r_max_lag about the mean of all values.

    r_k = sum (x_i - m)(x_{i+k} - m) / sum (x_i - m)^2, the definition used by NIST for its
    certified lag-1 values. Constant values have no correlation to speak of: all r_k are 0.
    """
    n = len(values)
    if n < 2:
        return [0.0] * max_lag
    mean, _ = mean_and_sd(values)
    d = [v - mean for v in values]
    total = math.fsum(x * x for x in d)
    if total == 0.0:
        return [0.0] * max_lag
    return [
        math.fsum(a * b for a, b in zip(d, d[k:], strict=False)) / total
        for k in range(1, max_lag + 1)
    ]


def variance_factor(correlations: Sequence[float], n: int) -> float:
    """How many times larger the variance of the mean of n readings is than s^2 / n.

    1 + 2 sum_k (1 - k/n) r_k over the correlations r_1, r_2, ... given. It is exact when they
    are the true ones, and may then be below 1.

    Source: N. F. Zhang, Metrologia 43 (2006) S276-S281.
    """
    return 1.0 + 2.0 * math.fsum((1.0 - k / n) * r for k, r in enumerate(correlations, 1) if k < n)


def correlation_cut_off(correlations: Sequence[float], n: int) -> int:
    """The last lag whose sample correlation of n readings stands out of chance, 0 if none does.

    r_k stands out when |r_k| > 1.96 sqrt((1 + 2 sum_{i<k} r_i^2) / n).

    Source: N. F. Zhang, Metrologia 43 (2006) S276-S281.
    """
    last, spread = 0, 1.0
    for k, r in enumerate(correlations, 1):
        if abs(r) > 1.96 * math.sqrt(spread / n):
            last = k
        spread += 2.0 * r * r
    return last


def autocorrelation_factor(values: Sequence[float]) -> float:
    """The variance factor of these readings' mean, from their own correlations; never below 1.

    Lags are searched up to n/4. Alternating readings would give a factor below 1; it is raised to
    1, because an apparent gain of this kind is more often a periodic disturbance.

    Source: N. F. Zhang, Metrologia 43 (2006) S276-S281.
    """
    n = len(values)
    r = autocorrelations(values, n // 4)
    return max(1.0, variance_factor(r[: correlation_cut_off(r, n)], n))


def u_of_mean(values: Sequence[float]) -> float:
    """Standard uncertainty of the mean of correlated readings: s sqrt(factor / n).

    Raises:
        ValueError: fewer than two values.

    Source: JCGM 100:2008, 4.2.3 with its note on correlated observations; Zhang (2006).
    """
    _, sd = mean_and_sd(values)
    return sd * math.sqrt(autocorrelation_factor(values) / len(values))


def quantisation_u(step: float, variance: float) -> float:
    """Standard uncertainty left in a mean because the display shows whole steps.

    Args:
        step: the display step d.
        variance: of the displayed values, divisor n.

    Returns:
        u with u^2 = (d^2/3)(1/4 - s^2/d^2), and 0 from s = d/2 on. A constant digit has
        d/sqrt(12): the length is anywhere within the digit. Two digits shown equally
        often have 0: the length is on the edge between them. With more noise than that the
        noise carries the mean across the steps and averaging works.

    Source: for Gaussian noise the bias of a quantised mean is known (B. Widrow, I. Kollár,
        Quantization Noise, 2008) and is below 0.01 d from a noise of d/2 on; the formula between
        is that of a level uniformly between the digit's edge and the mean.
    """
    return math.sqrt(max(0.0, 0.25 * step * step - variance) / 3.0)


def median(values: Sequence[float]) -> float:
    """The upper median, without averaging two middle values.

    Raises:
        IndexError: no values.
    """
    return sorted(values)[len(values) // 2]


def von_neumann_ratio(values: Sequence[float]) -> float:
    """Sum of squared successive differences over the sum of squared deviations from the mean.

    Near 2 for independent readings, small for a trend, near 4 for readings that alternate. Constant
    values give 2: nothing in them speaks against independence.

    Raises:
        ValueError: fewer than two values.

    Source: J. von Neumann, Ann. Math. Stat. 12 (1941) 367-395, with the divisor n - 1 in both sums;
        quantiles in B. I. Hart, Ann. Math. Stat. 13 (1942) 445-447.
    """
    _, sd = mean_and_sd(values)
    if sd == 0.0:
        return 2.0
    steps = math.fsum((b - a) ** 2 for a, b in pairwise(values))
    return steps / (sd * sd * (len(values) - 1))
