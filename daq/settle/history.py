"""The readings of the last half minute, in short bins with running sums.

A bin closes after 1/20 s, or at every reading when readings come slower. Only running sums are
kept, so the mean and the scatter over any look-back cost the same, and memory is constant.
Lengths are in tolerances and counted from an origin near them.
"""

import numpy as np
from numpy.typing import NDArray

BIN_S = 0.05
CAPACITY = 800
# Columns of the running sums: readings, sum, sum of squares, sum of squared differences between
# successive readings.
COUNT, SUM, SQUARES, STEPS = range(4)


class History:
    """Bins since the last restart. `start` is the first bin of the present window."""

    def __init__(self, gap_s: float) -> None:
        self.t_s: NDArray[np.float64] = np.zeros(CAPACITY)
        self.begin_s: NDArray[np.float64] = np.zeros(CAPACITY)  # time of a bin's first reading
        self.mean: NDArray[np.float64] = np.zeros(CAPACITY)
        self.sums: NDArray[np.float64] = np.zeros((CAPACITY + 1, 4))
        self.gap_s = gap_s  # typical time between readings, learned
        self.clear()

    @property
    def half_gap_s(self) -> float:
        """How far a reading stands for the time beside it.

        A little less than half an interval, so that no edge of a look-back falls on a reading:
        rounding must not decide on which side it counts.
        """
        return 0.47 * self.gap_s

    def clear(self) -> None:
        """Forget everything but the reading interval."""
        self.bins = 0
        self.start = 0
        self.sums[0] = 0.0
        self._previous: float | None = None
        self._open_new_bin()

    def add(self, t_s: float, y: float) -> bool:
        """Take a reading; True when it completed a bin."""
        if self._n == 0:
            self._first_s = t_s
        step = 0.0 if self._previous is None else y - self._previous
        self._previous = y
        self._n += 1
        self._t += t_s
        self._y += y
        self._yy += y * y
        self._dd += step * step
        # Closed when the next reading would come too late for it.
        if t_s - self._first_s + 0.99 * self.gap_s < BIN_S:
            return False
        self._close()
        return True

    def since(self, index: int) -> tuple[float, float, float]:
        """Mean, variance (divisor n) and noise variance from bin ``index`` to now.

        The noise variance is half the mean squared difference of successive readings: slow
        motion does not enter it.
        """
        n, y, yy, dd = (self.sums[self.bins] - self.sums[index]).tolist()
        mean = y / n
        return mean, max(0.0, yy / n - mean * mean), dd / (2 * n)

    def index_at(self, t_s: float) -> int:
        """The first bin of the present window that is not older than ``t_s``."""
        return self.start + int(self.t_s[self.start : self.bins].searchsorted(t_s))

    def _open_new_bin(self) -> None:
        self._n = 0
        self._t = self._y = self._yy = self._dd = 0.0

    def _close(self) -> None:
        if self.bins == CAPACITY:
            self._forget_the_older_half()
        k, n = self.bins, self._n
        self.t_s[k] = self.last_s = self._t / n
        self.begin_s[k] = self._first_s
        self.mean[k] = self.last_mean = self._y / n
        self.last_n = n
        self.sums[k + 1] = self.sums[k]
        self.sums[k + 1] += (n, self._y, self._yy, self._dd)
        self.bins = k + 1
        self._open_new_bin()

    def _forget_the_older_half(self) -> None:
        half = CAPACITY // 2
        self.t_s[:half] = self.t_s[half:].copy()
        self.begin_s[:half] = self.begin_s[half:].copy()
        self.mean[:half] = self.mean[half:].copy()
        self.sums[: half + 1] = self.sums[half:] - self.sums[half]
        self.bins -= half
        self.start = max(0, self.start - half)
