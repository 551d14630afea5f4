"""How likely true values are within their limits, for many values at once.

The same as ``daq.spec.probability.between`` gives for each by itself, to the last digit: it is its
formula, term by term, over the error function of the C library.
"""

import math
from collections.abc import Callable

import numpy as np

from daq.audit.impact.curve import Floats

_SQRT2 = math.sqrt(2.0)


def likely(below: Floats, above: Floats) -> Floats:
    """The chance that a normal value lies so many deviations below to above its mean, at most.

    Args:
        below: how far the lower limit lies below each value, in standard uncertainties; less than 0
            if the value is out by it, infinite if there is none; shape (n,).
        above: how far the upper limit lies above it.

    Source: JCGM 106:2012, 7.4. With both limits on one side the smaller tail is taken from the
    larger, so that nothing is lost far out; astride, two positive halves are added.
    """
    low, high = below / _SQRT2, above / _SQRT2
    p = np.empty(low.shape)
    out_low, out_high = low < 0, high < 0
    within = ~(out_low | out_high)
    p[within] = 0.5 * (_each(math.erf, high[within]) + _each(math.erf, low[within]))
    for out, nearer, further in ((out_low, low, high), (out_high & ~out_low, high, low)):
        tail = 0.5 * _each(math.erfc, -nearer[out])
        p[out] = tail - 0.5 * _each(math.erfc, further[out])
    return p


def _each(function: Callable[[float], float], values: Floats) -> Floats:
    return np.fromiter(map(function, values.tolist()), np.float64, values.size)
