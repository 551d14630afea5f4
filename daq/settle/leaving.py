"""Says when a part leaves the rest that was reported: a two-sided CUSUM of the bins.

Source: E. S. Page, Biometrika 41 (1954) 100-115. Lengths are in tolerances.
"""

import math

import numpy as np

from daq.settle.history import History
from daq.settle.report import Found


class Departure:
    """Watches the bins against the rest that is being reported."""

    def __init__(self, h: History, step: float) -> None:
        self._h = h
        self._step = step
        self.clear()

    def clear(self) -> None:
        """Forget the rest."""
        self._up = self._down = 0.0
        self._bin2 = 0.0
        self.swing = 0.0  # amplitude of the vibration that the rest was found under

    def hold(self, found: Found) -> None:
        """Take the rest as it is now known."""
        if found.sway is not None:
            self.swing = found.sway.amplitude
        # The newest bins may be a departure already.
        bins = self._h.mean[found.first : self._h.bins]
        self._bin2 = float(bins[: max(1, 3 * len(bins) // 4)].var())

    def is_seen(self, rest: Found) -> bool:
        """Whether the newest bin shows that the part has left; drops what came before it left."""
        h = self._h
        limit = 0.7 + 0.3 * self._step
        off = h.last_mean - rest.level - (rest.sway.at(h.last_s) if rest.sway else 0.0)
        off = max(-1.5 * limit, min(1.5 * limit, off))
        slack = 0.5 * limit
        # A fast vibration averages out over a look-back, not within a bin.
        bin2 = rest.s2 / h.last_n if rest.sway else max(rest.s2 / h.last_n, self._bin2)
        variance = bin2 + self._step**2 / 12 + 0.25 * rest.u**2
        alarm = 10 * variance / limit + 0.2 * limit
        self._up = max(0.0, self._up + off - slack)
        self._down = max(0.0, self._down - off - slack)
        if max(self._up, self._down) <= alarm:
            return False
        if rest.sway is None:
            side = 1 if self._up > alarm else -1
            h.start = h.bins - self._run_length(side, rest.level, slack)
            return True
        self._up = self._down = 0.0
        return not self.still_sways(rest)

    def still_sways(self, rest: Found) -> bool:
        """Whether the last period lies about the level of a swaying rest, within its swing.

        The fitted sinusoid runs out of step with the vibration sooner or later; that is no move.
        """
        h, sway = self._h, rest.sway
        assert sway is not None
        newest = h.mean[h.index_at(h.last_s - 1.0 / sway.frequency_hz) : h.bins] - rest.level
        low, high = float(newest.min()), float(newest.max())
        reach = 1.5 * sway.amplitude + 0.5 + 4 * math.sqrt(sway.noise2)
        middle = 0.5 * (low + high)
        return max(high, -low) <= reach and abs(middle) <= 0.5 * (sway.amplitude + 1.0)

    def _run_length(self, side: int, level: float, slack: float) -> int:
        """How many of the newest bins lie beyond the slack on that side, 1 to 60."""
        h = self._h
        newest = side * (h.mean[max(h.start, h.bins - 60) : h.bins] - level) >= slack
        inside = np.flatnonzero(~newest[:-1])
        return len(newest) - (int(inside[-1]) + 1 if len(inside) else 0)
