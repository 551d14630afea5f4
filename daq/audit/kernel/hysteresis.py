"""The difference between up and down at one nominal length, for each pass of points.

Most calibrations go up through the points and come down through the same: then the partner of a
point is found by counting, without sorting. Passes of any other form are sorted, and only those.
"""

import numpy as np
import numpy.typing as npt

from daq.audit.layout import NULL, WAYS
from daq.audit.source import Ints

_UP, _DOWN = WAYS.index("up"), WAYS.index("down")

Columns = dict[str, npt.NDArray[np.generic]]


def hysteresis(nominal: Ints, error: Ints, way: Ints, starts: Ints, sizes: Ints) -> Columns:
    """Up less down at the same nominal: ``pairs``, ``hysteresis_nm``, ``hysteresis_mean_nm``.

    ``hysteresis_nm`` is the largest difference, without its sign, and missing where a pass has no
    pair; ``hysteresis_mean_nm`` is their mean, with its sign, and no number there. Points of one
    nominal and way are averaged.
    """
    pairs = np.zeros(starts.size, dtype=np.int32)
    most = np.full(starts.size, NULL, dtype=np.int64)
    mean = np.full(starts.size, np.nan)
    if way.strides != (0,):
        mirrored = _by_counting(nominal, error, way, (starts, sizes), (pairs, most, mean))
        rest = np.flatnonzero(~mirrored)
        if rest.size:
            _by_sorting(nominal, error, way, (starts, sizes), rest, (pairs, most, mean))
    return {"pairs": pairs, "hysteresis_nm": most, "hysteresis_mean_nm": mean}


_Where = tuple[Ints, Ints]
_Into = tuple[npt.NDArray[np.int32], Ints, npt.NDArray[np.float64]]


def _by_counting(
    nominal: Ints, error: Ints, way: Ints, where: _Where, into: _Into
) -> npt.NDArray[np.bool_]:
    """Fills in the passes that come down through the points they went up; which they are."""
    starts, sizes = where
    pairs, most, mean = into
    partner = np.repeat(2 * starts + sizes - 1, sizes)
    partner -= np.arange(error.size)
    up = way == _UP
    paired = nominal[partner] == nominal
    paired &= up != up[partner]
    paired &= way <= _DOWN
    mirrored = np.logical_and.reduceat(paired, starts)
    difference = error - error[partner]
    # Each pair is met twice with opposite signs, once from above and once from below.
    largest = np.maximum.reduceat(difference, starts)
    least = np.minimum.reduceat(difference, starts)
    total = np.add.reduceat(np.where(up, difference, 0), starts)
    ups = sizes // 2
    pairs[mirrored] = ups[mirrored]
    most[mirrored] = np.maximum(largest, -least)[mirrored]
    mean[mirrored] = total[mirrored] / ups[mirrored]
    return mirrored


def _by_sorting(
    nominal: Ints, error: Ints, way: Ints, where: _Where, rest: Ints, into: _Into
) -> None:
    """Fills in the passes of any form; twice rising through the points is no mirror, either."""
    starts, sizes = where
    pairs, most, mean = into
    rows = np.concatenate(
        [np.arange(starts[each], starts[each] + sizes[each]) for each in rest.tolist()]
    )
    owner = np.repeat(np.arange(rest.size), sizes[rest])
    order = np.lexsort((nominal[rows], owner))
    rows, owner = rows[order], owner[order]
    length = nominal[rows]
    first = np.concatenate(
        [[0], np.flatnonzero((np.diff(owner) != 0) | (np.diff(length) != 0)) + 1]
    )
    means = []
    counts = []
    for each in (_UP, _DOWN):
        here = way[rows] == each
        counts.append(np.add.reduceat(here, first, dtype=np.int64))
        means.append(np.add.reduceat(np.where(here, error[rows], 0), first, dtype=np.float64))
    both = np.flatnonzero((counts[0] > 0) & (counts[1] > 0))
    difference = means[0][both] / counts[0][both] - means[1][both] / counts[1][both]
    group = owner[first][both]
    number = np.bincount(group, minlength=rest.size)
    largest = np.full(rest.size, -1.0)
    np.maximum.at(largest, group, np.abs(difference))
    total = np.bincount(group, weights=difference, minlength=rest.size)
    some = number > 0
    pairs[rest] = number
    most[rest[some]] = np.rint(largest[some]).astype(np.int64)
    mean[rest[some]] = total[some] / number[some]
