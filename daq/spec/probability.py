"""How likely a length is within limits, given its standard uncertainty, and the guard for that.

The value's distribution is taken as normal with the standard uncertainty as its standard deviation
(JCGM 106:2012, 7.2). The tails are computed with ``erfc``, never as a difference from one.
"""

import math
from functools import lru_cache
from statistics import NormalDist

_SQRT2 = math.sqrt(2.0)


def below(z: float) -> float:
    """The standard normal distribution function at ``z``, accurate far into the lower tail.

    ``below(-10)`` is 7.62e-24, not 0.
    """
    return 0.5 * math.erfc(-z / _SQRT2)


def between(z_low: float, z_high: float) -> float:
    """The probability that a standard normal variable lies between two bounds.

    Args:
        z_low: the lower bound; ``-math.inf`` for none.
        z_high: the upper bound, not below ``z_low``; ``math.inf`` for none.

    Source: JCGM 106:2012, 7.4: Φ((T_U − y)/u) − Φ((T_L − y)/u). With both bounds on one side the
    smaller tail is subtracted from the larger; astride zero two positive halves are added.
    """
    if z_low > 0:
        return below(-z_low) - below(-z_high)
    if z_high < 0:
        return below(z_high) - below(z_low)
    return 0.5 * (math.erf(z_high / _SQRT2) + math.erf(-z_low / _SQRT2))


@lru_cache(maxsize=512)
def guard_factor(probability: float, width_over_u: float = math.inf) -> float | None:
    """How many standard uncertainties inside a limit a value must lie to be accepted.

    Args:
        probability: the wanted conformance probability, above 0.5 and below 1.
        width_over_u: distance between the two limits over the standard uncertainty; infinite
            where only one limit counts.

    Returns:
        The smallest factor g with conformance probability at least ``probability`` at g·u inside a
        limit. It grows where the other limit comes near. None if no value at all reaches the
        probability, not even in the middle: for 95 % that is ``width_over_u`` below 3.92.

    Source: JCGM 106:2012, 8.3 (guarded acceptance); ISO 14253-1:2017 for 95 % as the default.
    """
    one_sided = NormalDist().inv_cdf(probability)
    middle = width_over_u / 2
    if between(-middle, middle) < probability:
        return None
    # Beyond about nine standard uncertainties the other limit is out of a float's sight.
    low, high = one_sided, min(middle, one_sided + 10)
    if between(low - width_over_u, low) >= probability:
        return low
    for _ in range(200):
        guess = (low + high) / 2
        if not low < guess < high:
            break
        if between(guess - width_over_u, guess) >= probability:
            high = guess
        else:
            low = guess
    return high
