"""How much motion is still to come, judged over several look-backs at once.

Each look-back is cut into eight blocks of equal time. The block means are held against shapes of
motion: exponential decays of several time constants and a straight ramp. A shape is written so
that its coefficient r is the motion still to come (up to sign): x(t) = rest + r f(t), f(now) = 1.
Least squares give r and its variance; a prior that the part is at rest as likely as not, and
that any motion left is r ~ N(0, PRIOR^2), turns them into the probability that more than LIMIT
is still to come. Lengths are in tolerances. Derivation: docs/settling.md.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.settle.history import COUNT, SQUARES, STEPS, SUM, History

Array = NDArray[np.float64]

BLOCKS = 8
# Look-back over time constant. Slower decays than SLOWEST_S are taken as ramps.
KAPPAS = np.array([0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0])
SLOWEST_S, FASTEST_S = 3.5, 0.03
HORIZON_S = 1.0  # a ramp is followed this far into the future
PRIOR = 1.5
LIMIT = 0.4
TOO_SMALL = 0.02  # scatter and misfit below this are not worth telling from nothing
NOISE_DOF = 6.0  # what the scatter of readings counts for beside the scatter of blocks
LEARNED_DOF = 4.0  # what the noise of the last rest counts for


def _block_shapes() -> Array:
    """Mean of each shape over each block, per unit look-back: shape (shapes, BLOCKS)."""
    edge = np.linspace(1.0, 0.0, BLOCKS + 1)
    far, near = edge[:-1], edge[1:]
    decays = [(np.exp(k * far) - np.exp(k * near)) / k * BLOCKS for k in KAPPAS]
    return np.array([*decays, (far + near) / 2])


EDGES: Array = np.linspace(1.0, 0.0, BLOCKS + 1)
SHAPES: Array = np.ascontiguousarray(_block_shapes().T)
SQUARED_SHAPES: Array = SHAPES**2


@dataclass(frozen=True, slots=True)
class LookBacks:
    """One entry a look-back, shortest first; lengths in tolerances, variances of one reading.

    first: index of the oldest bin. blocks: how many of the eight hold readings. mean, raw: of all
    readings. noise2: from successive readings. misfit2: from the block means about the best
    shape. s2, dof: both pooled with the noise learned. step2: what the display step adds to it.
    far: probability that more than LIMIT is to come. moving: weight of motion against rest.
    left2: expected square of the motion still to come; bias2: of the mean's distance from the
    rest. late: mean of the newest three blocks less the mean. r, tau_s: of the likeliest shape.
    """

    span_s: list[float]
    first: list[int]
    n: list[float]
    blocks: list[int]
    mean: list[float]
    raw: list[float]
    noise2: list[float]
    misfit2: list[float]
    s2: list[float]
    dof: list[float]
    step2: list[float]
    far: list[float]
    moving: list[float]
    left2: list[float]
    bias2: list[float]
    late: list[float]
    r: list[float]
    tau_s: list[float]


def look_back(h: History, spans_s: Array, step: float, learned2: float | None) -> LookBacks:
    """Judge all the look-backs ``spans_s`` (ascending, none longer than the window)."""
    index, count, offset, sums = _blocks(h, spans_s)
    n = np.maximum(sums[:, COUNT], 1.0)
    mean = sums[:, SUM] / n
    raw = np.maximum(sums[:, SQUARES] / n - mean * mean, 0.0)
    noise2 = sums[:, STEPS] / (2 * n)
    filled = (count > 0).sum(1)
    # Least squares of every shape beside a constant, weighted by the readings in each block.
    f_mean = count @ SHAPES / n[:, None]
    s_ff = np.maximum(count @ SQUARED_SHAPES - n[:, None] * f_mean * f_mean, 1e-12)
    s_fy = offset @ SHAPES
    r = s_fy / s_ff
    possible = _possible(spans_s)
    s_yy = (offset * offset / np.maximum(count, 1.0)).sum(1)
    misfit = np.maximum(s_yy - np.where(possible, r * s_fy, 0.0).max(1), 0.0)
    s2, dof = _pooled_noise(noise2, n, misfit, filled, learned2)
    # A display step does not average out in a block until the noise carries the reading across.
    undithered = np.maximum(1.0 - 10.0 * noise2 / step**2, 0.0)
    step2 = step**2 / 12 * undithered * n / BLOCKS
    v = (s2 * (1 + 2 / dof) + step2)[:, None] / s_ff
    per_horizon = HORIZON_S / spans_s
    r[:, -1] *= per_horizon
    v[:, -1] *= per_horizon**2
    f_mean[:, -1] = 1 + f_mean[:, -1] / per_horizon
    weight, far, left2 = _posterior(r, v, possible)
    best = weight.argmax(1)
    rows = np.arange(len(spans_s))
    return LookBacks(
        span_s=spans_s.tolist(),
        first=index.tolist(),
        n=n.tolist(),
        blocks=filled.tolist(),
        mean=mean.tolist(),
        raw=raw.tolist(),
        noise2=noise2.tolist(),
        misfit2=(misfit / np.maximum(filled - 3.0, 0.5)).tolist(),
        s2=s2.tolist(),
        dof=dof.tolist(),
        step2=step2.tolist(),
        far=far.sum(1).tolist(),
        moving=weight.sum(1).tolist(),
        left2=left2.sum(1).tolist(),
        bias2=(left2 * f_mean * f_mean).sum(1).tolist(),
        late=(offset[:, 5:].sum(1) / np.maximum(count[:, 5:].sum(1), 1.0)).tolist(),
        r=r[rows, best].tolist(),
        tau_s=(spans_s / np.append(KAPPAS, 1e-9)[best]).tolist(),
    )


def _blocks(h: History, spans_s: Array) -> tuple[NDArray[np.intp], Array, Array, Array]:
    """First bins; readings a block; their sum less the look-back's mean; sums of the whole."""
    now_s = h.last_s + h.half_gap_s
    edges_s = now_s - spans_s[:, None] * EDGES
    index = h.start + h.t_s[h.start : h.bins].searchsorted(edges_s)
    index[:, -1] = h.bins
    at_edges = h.sums[index]
    blocks = at_edges[:, 1:, :2] - at_edges[:, :-1, :2]
    sums = at_edges[:, -1] - at_edges[:, 0]
    mean = sums[:, SUM] / np.maximum(sums[:, COUNT], 1.0)
    count = blocks[:, :, COUNT]
    return index[:, 0], count, blocks[:, :, SUM] - count * mean[:, None], sums


def _possible(spans_s: Array) -> NDArray[np.bool_]:
    tau_s = spans_s[:, None] / KAPPAS
    possible = np.ones((len(spans_s), len(KAPPAS) + 1), dtype=bool)
    possible[:, :-1] = (tau_s <= SLOWEST_S) & (tau_s >= FASTEST_S)
    return possible


def _pooled_noise(
    noise2: Array, n: Array, misfit: Array, filled: NDArray[np.intp], learned2: float | None
) -> tuple[Array, Array]:
    """Variance of one reading as it matters for block means, and its degrees of freedom.

    Independent readings scatter alike within and between blocks. Correlated ones scatter more
    between blocks, a fast vibration less; the block misfit sees both.
    """
    from_readings = np.minimum(0.6 * n, NOISE_DOF)
    from_blocks = np.maximum(filled - 3.0, 0.5)
    total = from_readings * noise2 + misfit
    dof = from_readings + from_blocks
    if learned2 is not None:
        total = total + LEARNED_DOF * learned2
        dof = dof + LEARNED_DOF
    return np.maximum(total / dof, TOO_SMALL**2), dof


def _posterior(r: Array, v: Array, possible: NDArray[np.bool_]) -> tuple[Array, Array, Array]:
    """Weight of each shape, its share of P(|r| > LIMIT), and its share of E[r^2]."""
    shrink = PRIOR**2 / (v + PRIOR**2)
    centre = r * shrink
    variance = v * shrink
    log_odds = 0.5 * (np.log(1 - shrink) + np.minimum(r * centre / v, 600.0))
    odds = np.where(possible, np.exp(log_odds), 0.0) / possible.sum(1)[:, None]
    weight = odds / (1 + odds.sum(1))[:, None]
    sd = np.sqrt(variance)
    inside = 0.5 * (_erf_like((LIMIT - centre) / sd) + _erf_like((LIMIT + centre) / sd))
    return weight, weight * (1 - inside), weight * (centre * centre + variance)


def _erf_like(x: Array) -> Array:
    """2 Phi(x) - 1 to 3e-4, by the usual hyperbolic tangent; numpy has no error function."""
    return np.tanh(0.7978845608 * (x + 0.044715 * x**3))
