"""Whether captures of a gauge have shifted: long runs on one side, and a step somewhere.

Of many rows some do anything that chance allows. A run of eight on one side of the middle comes
once in 128 rows, and half a million times in sixty million. So how long a run must be grows with
the logarithm of the number of rows.

Source: A. N. Pettitt, Applied Statistics 28 (1979) 126 (the step, and the chance of one).
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt


@dataclass(frozen=True, slots=True)
class Step:
    """Where a series is most likely to have stepped.

    ``at`` is the index of the first value after it, ``size`` the median after less the median
    before. ``p`` is an upper bound of the chance of a step as clear where there is none; it is
    near the truth where it is below 0.5.
    """

    at: int
    size: float
    p: float


def telling_run(rows: int, alarms: float = 0.01) -> int:
    """How long a run on one side of the median must be, to come by chance ``alarms`` times at most.

    Args:
        rows: of all the series that are looked at.
        alarms: how many runs may be expected by chance in all of them, above 0.
    """
    if not (rows > 0 and alarms > 0):
        raise ValueError(f"{rows} rows with {alarms} alarms allow no run; both are above 0")
    return max(2, math.ceil(math.log2(rows / alarms)))


def run_p(length: npt.ArrayLike, rows: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """The chance of at least one run of ``length`` or more among ``rows`` values: an upper bound.

    Each value is independent and on either side of the middle with a chance of at most one half; a
    value on the middle ends a run. The bound is the expected number of such runs: near the truth
    where it is small.

    Args:
        length: of the longest run, at least 1; any shape.
        rows: how many values there are; a shape that goes with it.
    """
    run = np.asarray(length, dtype=np.float64)
    made = np.asarray(rows, dtype=np.float64)
    # The first may begin a run on either side; every later one begins one only where sides change.
    expected = np.exp2(1.0 - run) * (1.0 + (made - run) / 2.0)
    return np.where(run > made, 0.0, np.minimum(expected, 1.0))


def step(values: npt.ArrayLike) -> Step | None:
    """Where a series steps, by ranks: for any distribution, and not drawn by a few wild values.

    Args:
        values: in the order in which they were taken, independent; shape (n,).

    Returns:
        The clearest step; None with fewer than four values, or if all are the same.
    """
    series = np.asarray(values, dtype=np.float64)
    n = series.size
    if n < 4 or series.min() == series.max():
        return None
    # Twice the ranks, less their mean: whole numbers, also where values are equal.
    ordered = np.sort(series)
    ranks = np.searchsorted(ordered, series, "left") + np.searchsorted(ordered, series, "right")
    sums = np.cumsum(ranks - n)[:-1]
    at = int(np.argmax(np.abs(sums))) + 1
    most = float(abs(sums[at - 1]))
    chance = 2.0 * math.exp(-6.0 * most**2 / (float(n) ** 3 + float(n) ** 2))
    size = float(np.median(series[at:]) - np.median(series[:at]))
    return Step(at, size, min(1.0, chance))
