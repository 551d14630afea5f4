"""Rest under a slow vibration: a straight line and one sinusoid fitted to the bins.

A vibration that a slow gauge samples can appear at a fraction of a hertz and is then no noise to be
averaged within a second. The frequency is not known either: every frequency that fits counts
with the weight of its residual, so a value with too few periods comes with a large uncertainty.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.settle.history import COUNT, History

Array = NDArray[np.float64]

# Span in s and the highest frequency worth looking for in it.
SPANS = ((2.0, 6.0), (2.8, 4.0), (4.0, 3.0), (5.6, 2.0), (8.0, 1.5), (11.0, 1.0))
LARGEST = 5.0  # amplitude in tolerances; a larger swing is motion, not vibration of a rest
LEAST_PERIODS = 1.5
NOISE_FACTOR, WEAK_LINE = 2.0, 0.07
LEFT_UNEXPLAINED = 0.15  # of the variance
STEEPEST = 0.4  # tolerances a second, twice the slope's u included
LARGEST_U = 0.3


@dataclass(frozen=True, slots=True)
class Sway:
    """The fit: ``value`` mid-span with ``u`` (tolerances), the sinusoid, and what is left over."""

    value: float
    u: float
    slope: float
    frequency_hz: float
    amplitude: float
    noise2: float
    n: int
    first: int
    _cos: float
    _sin: float
    _t0_s: float

    def at(self, t_s: float) -> float:
        """The sinusoid alone at ``t_s``."""
        phase = 2 * math.pi * self.frequency_hz * (t_s - self._t0_s)
        return self._cos * math.cos(phase) + self._sin * math.sin(phase)


def find_sway(h: History, longer_than_s: float) -> Sway | None:
    """The sway about a rest that the shortest sufficient span shows, or None.

    ``longer_than_s``: spans up to this are known to hold plain motion and are not tried.
    """
    length_s = h.last_s - float(h.t_s[h.start])
    for span_s, highest_hz in SPANS:
        if span_s > length_s + h.gap_s:
            return None
        first = h.index_at(h.last_s - span_s - h.half_gap_s)
        mean = h.mean[first : h.bins]
        if mean.max() - mean.min() > 2 * LARGEST + 2:
            return None
        if span_s > longer_than_s and len(mean) >= 12:
            sway = _fit(h, first, highest_hz)
            if sway is not None:
                return sway
    return None


def _fit(h: History, first: int, highest_hz: float) -> Sway | None:
    t = h.t_s[first : h.bins] - h.last_s
    counts = h.sums[first : h.bins + 1, COUNT]
    weight = counts[1:] - counts[:-1]
    n, bins, span_s = float(weight.sum()), len(t), -float(t[0])
    middle = float(weight @ h.mean[first : h.bins]) / n
    y = h.mean[first : h.bins] - middle
    grid_hz = 0.35 / span_s
    tried = np.arange(1.0 / span_s, min(0.45 * (bins - 1) / span_s, highest_hz), grid_hz)
    if len(tried) < 2:
        return None
    _, _, misfit = _least_squares(t, y, weight, tried)
    near = tried[int(misfit.argmin())] + grid_hz * np.linspace(-1, 1, 13)
    coef, inverse, misfit = _least_squares(t, y, weight, near[near > 0.4 / span_s])
    best = int(misfit.argmin())
    frequency_hz = float(near[near > 0.4 / span_s][best])
    amplitude = math.hypot(coef[best, 2], coef[best, 3])
    left = float(misfit[best]) / max(float((weight * y) @ y), 1e-12)
    noise2 = float(misfit[best]) / (bins - 5)
    # A sinusoid through a few moves of a hand leaves more than noise (and a weak second line).
    most = NOISE_FACTOR * h.since(first)[2] + (WEAK_LINE * amplitude) ** 2 * n / bins
    if amplitude > LARGEST or left > LEFT_UNEXPLAINED or noise2 > most:
        return None
    if frequency_hz * span_s < LEAST_PERIODS:
        return None
    likely = (misfit / misfit[best]) ** (-0.5 * (bins - 5))
    likely /= likely.sum()
    slope, u_slope = _averaged(coef[:, 1], inverse[:, 1, 1] * noise2, likely)
    at = float(t.mean())
    spread = inverse[:, 0, 0] + 2 * at * inverse[:, 0, 1] + at * at * inverse[:, 1, 1]
    value, u = _averaged(coef[:, 0] + at * coef[:, 1], spread * noise2, likely)
    if abs(slope) + 2 * u_slope > STEEPEST or u > LARGEST_U:
        return None
    u = math.sqrt(2 * u * u + (0.5 * slope * span_s) ** 2)
    if u > 2 * LARGEST_U:
        return None
    cos, sin = coef[best, 2:].tolist()
    return Sway(
        value + middle, u, slope, frequency_hz, amplitude, noise2, int(n), first, cos, sin, h.last_s
    )


def _least_squares(t: Array, y: Array, weight: Array, hz: Array) -> tuple[Array, Array, Array]:
    """Coefficients of 1, t, cos, sin for every frequency, inverse normal matrix, misfit."""
    phase = 2 * np.pi * hz[:, None] * t
    x = np.empty((len(hz), 4, len(t)))
    x[:, 0] = 1.0
    x[:, 1] = t
    np.cos(phase, out=x[:, 2])
    np.sin(phase, out=x[:, 3])
    weighted = x * weight
    normal = weighted @ x.transpose(0, 2, 1)
    normal[:, range(4), range(4)] += 1e-9
    inverse: Array = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    moment = weighted @ y
    coef = (inverse @ moment[:, :, None])[:, :, 0]
    misfit: Array = np.maximum((weight * y) @ y - (coef * moment).sum(1), 1e-9)
    return coef, inverse, misfit


def _averaged(values: Array, variances: Array, weight: Array) -> tuple[float, float]:
    """Mean and standard uncertainty of a quantity over the frequencies that fit."""
    mean = float(weight @ values)
    return mean, math.sqrt(float(weight @ (variances + (values - mean) ** 2)))
