"""Whether a series of captures stood somewhere else for a while: means of windows, in one pass.

A window is so many captures that follow each other. Its mean is held against the middle of its
series. First by the mean and the spread of the series, which is quick and finds every candidate;
then, of the candidates alone, by the median and the median deviation, which a shift does not draw.
"""

import numpy as np
import numpy.typing as npt

from daq.audit.kernel.passes import Table
from daq.audit.source import Ints

WIDTH, STRIDE = 30, 10
"""Captures in a window, and from one window to the next."""

CANDIDATE = 3.5
"""From which mean of a window, in its standard errors, a series is looked at more closely."""

WILD = 4.5
"""Standard deviations from the mean at which a value may be what makes the spread."""

_NORMAL_MAD = 1.4826
"""Standard deviation by median absolute deviation, of a normal distribution."""

_Floats = npt.NDArray[np.float64]


def shifts(gauge: Ints, seq: Ints, place: _Floats, series: Ints) -> Table:
    """The clearest shift of each series that has one: ``gauge, seq_lo, seq_hi, size, z, looks``.

    ``size`` is the mean of the clearest window less the median of the series, in standard
    deviations; ``z`` the same in standard errors of such a mean; ``looks`` how many windows there
    were. ``seq_lo`` to ``seq_hi`` are the windows beside it that stand out at least half as far.
    Series of fewer than two windows, or without any spread, are left out.
    """
    sizes = np.diff(np.append(series, place.size))
    use = np.flatnonzero(sizes >= 2 * WIDTH)
    if not use.size:
        return _table(gauge, seq, [])
    clipped, wild = _clipped(place, series, sizes)
    total = np.empty(clipped.size + 1)
    total[0] = 0.0
    np.cumsum(clipped, out=total[1:])
    begins, counts = series[use], (sizes[use] - WIDTH) // STRIDE + 1
    owner = np.repeat(np.arange(use.size), counts)
    first = np.concatenate([[0], np.cumsum(counts)[:-1]])
    at = begins[owner] + STRIDE * (np.arange(owner.size) - first[owner])
    means = (total[at + WIDTH] - total[at]) / WIDTH
    mean = (total[begins + sizes[use]] - total[begins]) / sizes[use]
    clipped *= clipped
    squares = np.add.reduceat(clipped, series)[use] / sizes[use]
    spread = np.sqrt(np.maximum(squares - mean * mean, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        z = np.abs(means - mean[owner]) / spread[owner] * np.sqrt(WIDTH)
    most = np.maximum.reduceat(np.nan_to_num(z, nan=0.0, posinf=0.0), first)
    found = []
    for each in np.flatnonzero((most > CANDIDATE) | wild[use]).tolist():
        begin = int(begins[each])
        values = place[begin : begin + int(sizes[use[each]])]
        if (one := _closer(values)) is not None:
            lo, hi, size, looks = one
            found.append((begin + lo, begin + hi, size, looks))
    return _table(gauge, seq, found)


def _clipped(place: _Floats, series: Ints, sizes: Ints) -> tuple[_Floats, npt.NDArray[np.bool_]]:
    """Values less the mean of their series, drawn in to three standard deviations.

    And which series have a value so wild that it makes the spread, and would hide a shift.
    """
    sound = place
    if not np.isfinite(place.sum()):
        sound = np.nan_to_num(place, nan=0.0, posinf=0.0, neginf=0.0)
    mean = np.add.reduceat(sound, series) / sizes
    squares = np.add.reduceat(sound * sound, series) / sizes
    reach = 3.0 * np.sqrt(np.maximum(squares - mean * mean, 0.0))
    sound = sound - np.repeat(mean, sizes)
    most, least = np.maximum.reduceat(sound, series), np.minimum.reduceat(sound, series)
    wild = np.maximum(most, -least) > WILD / 3.0 * reach
    limit = np.repeat(reach, sizes)
    np.minimum(sound, limit, out=sound)
    np.negative(limit, out=limit)
    np.maximum(sound, limit, out=sound)
    return sound, wild


def _closer(values: _Floats) -> tuple[int, int, float, int] | None:
    """First and last place of a shift, its size and the number of windows; None if there is none.

    None also where values lack their limits.
    """
    middle = float(np.median(values))
    sigma = _NORMAL_MAD * float(np.median(np.abs(values - middle)))
    if not sigma > 0:
        return None
    total = np.concatenate([[0.0], np.cumsum(np.clip((values - middle) / sigma, -5.0, 5.0))])
    at = np.arange(0, values.size - WIDTH + 1, STRIDE)
    means = (total[at + WIDTH] - total[at]) / WIDTH
    best = int(np.argmax(np.abs(means)))
    size = float(means[best])
    out = np.sign(size) * means >= abs(size) / 2
    lo = hi = best
    while lo > 0 and out[lo - 1]:
        lo -= 1
    while hi < at.size - 1 and out[hi + 1]:
        hi += 1
    return int(at[lo]), int(at[hi]) + WIDTH - 1, size, int(at.size)


def _table(gauge: Ints, seq: Ints, found: list[tuple[int, int, float, int]]) -> Table:
    lo = np.array([each[0] for each in found], dtype=np.int64)
    hi = np.array([each[1] for each in found], dtype=np.int64)
    size = np.array([each[2] for each in found], dtype=np.float64)
    return {
        "gauge": gauge[lo],
        "seq_lo": seq[lo],
        "seq_hi": seq[hi],
        "size": size,
        "z": size * np.sqrt(WIDTH),
        "looks": np.array([each[3] for each in found], dtype=np.int64),
    }
