"""Tails and quantiles of the beta, F and t distributions, by own numerics.

All rest on the regularised incomplete beta function, computed by its continued fraction. Relative
errors stay below 1e-10 for degrees of freedom up to 10,000; a test holds them against another
library. Tails are computed as such, never as a difference from one.

Sources: NIST Digital Library of Mathematical Functions, 8.17 (8.17.22 is the continued fraction);
26.5 of Abramowitz and Stegun for F and t in terms of the beta function.
"""

import math
from collections.abc import Callable
from functools import lru_cache

_TINY = 1e-300
_MOST_TERMS = 20_000


def incomplete_beta(a: float, b: float, x: float, y: float | None = None) -> float:
    """The regularised incomplete beta function I_x(a, b), which is a probability.

    Args:
        a: above 0.
        b: above 0.
        x: from 0 to 1.
        y: 1 − x, where it is known better than by subtracting.

    Raises:
        ValueError: an argument is out of its range.
    """
    if not (a > 0 and b > 0 and 0 <= x <= 1):
        raise ValueError(f"the incomplete beta function has no value at a={a}, b={b}, x={x}")
    y = 1.0 - x if y is None else y
    if x == 0.0 or y == 1.0:
        return 0.0
    if y == 0.0 or x == 1.0:
        return 1.0
    front = math.exp(_log_front(a, b, x, y))
    # The fraction converges quickly below the mean of the distribution; above it, the other tail.
    if x < (a + 1) / (a + b + 2):
        return front * _fraction(a, b, x) / a
    return 1.0 - front * _fraction(b, a, y) / b


def _log_front(a: float, b: float, x: float, y: float) -> float:
    """The logarithm of x^a · y^b / B(a, b)."""
    log_x = math.log(x) if x < 0.5 else math.log1p(-y)
    log_y = math.log(y) if y < 0.5 else math.log1p(-x)
    return math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * log_x + b * log_y


def _fraction(a: float, b: float, x: float) -> float:
    """The continued fraction of DLMF 8.17.22, from the front by the modified method of Lentz."""
    c, d = 1.0, 1.0 - (a + b) * x / (a + 1)
    d = 1.0 / (d if abs(d) > _TINY else _TINY)
    value = d
    for m in range(1, _MOST_TERMS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            d = 1.0 + term * d
            c = 1.0 + term / c
            d = 1.0 / (d if abs(d) > _TINY else _TINY)
            c = c if abs(c) > _TINY else _TINY
            value *= c * d
        if abs(c * d - 1.0) < 1e-16:
            break
    return value


def beta_quantile(probability: float, a: float, b: float) -> float:
    """The x with I_x(a, b) = ``probability``.

    Raises:
        ValueError: the probability is not above 0 and below 1.
    """
    _is_probability(probability)
    # Solved in the logarithm of x / (1 − x), so that a quantile near either end keeps its digits.
    odds = math.exp(
        _root(lambda z: incomplete_beta(a, b, *_shares(math.exp(z))) - probability, -600.0, 600.0)
    )
    return _shares(odds)[0]


def _shares(odds: float) -> tuple[float, float]:
    """The x and 1 − x whose quotient is ``odds``."""
    return odds / (1.0 + odds), 1.0 / (1.0 + odds)


def f_upper_tail(f: float, dof_1: float, dof_2: float) -> float:
    """The probability that F with ``dof_1`` and ``dof_2`` degrees of freedom is above ``f``."""
    if f <= 0:
        return 1.0
    if math.isinf(f):
        return 0.0
    x, y = _shares(dof_2 / (dof_1 * f))
    return incomplete_beta(dof_2 / 2, dof_1 / 2, x, y)


@lru_cache(maxsize=512)
def f_quantile(probability: float, dof_1: float, dof_2: float) -> float:
    """The value below which F lies with ``probability`` (above 0 and below 1)."""
    _is_probability(probability)

    def lower_tail_less(log_f: float) -> float:
        x, y = _shares(dof_1 * math.exp(log_f) / dof_2)
        return incomplete_beta(dof_1 / 2, dof_2 / 2, x, y) - probability

    def upper_tail_more(log_f: float) -> float:
        return (1.0 - probability) - f_upper_tail(math.exp(log_f), dof_1, dof_2)

    solved = lower_tail_less if probability < 0.5 else upper_tail_more
    return math.exp(_root(solved, -600.0, 600.0))


def t_two_sided_tail(t: float, dof: float) -> float:
    """The probability that Student's t is further from 0 than ``t``, either way."""
    return f_upper_tail(t * t, 1.0, dof)


@lru_cache(maxsize=512)
def t_quantile(probability: float, dof: float) -> float:
    """The value below which Student's t lies with ``probability`` (above 0 and below 1)."""
    _is_probability(probability)
    if probability == 0.5:
        return 0.0
    tail = 2.0 * min(probability, 1.0 - probability)
    size = math.exp(_root(lambda z: tail - t_two_sided_tail(math.exp(z), dof), -80.0, 300.0))
    return size if probability > 0.5 else -size


def _is_probability(probability: float) -> None:
    if not 0.0 < probability < 1.0:
        raise ValueError(f"{probability} is not a probability above 0 and below 1")


def _root(rising: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function crosses 0, by halving until the bounds are neighbours."""
    for _ in range(200):
        middle = (low + high) / 2
        if not low < middle < high:
            break
        if rising(middle) < 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2
